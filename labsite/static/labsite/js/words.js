// Words in the reader's language, handed over by the template as JSON.
// {% page_words "tube" "keypad" %} prints <script type="application/json" id="words-…">.

const words = new Map();
const missing = new Set();

export function loadWords(root = document) {
  for (const holder of root.querySelectorAll('script[type="application/json"][id^="words-"]')) {
    addWords(JSON.parse(holder.textContent));
  }
}

export function addWords(entries) {
  for (const [key, text] of Object.entries(entries)) words.set(key, text);
}

/** The text behind a key with its {names} filled in. A missing key shows as itself. */
export function word(key, values = {}) {
  if (!words.has(key)) missing.add(key);
  const text = words.get(key) ?? key;
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));
}

/** Keys that were asked for and not handed over; browser tests read this. */
export function missingWords() {
  return [...missing];
}

/** A decimal as the server wrote it ("466.5"), with the page's own decimal mark and minus. */
export function decimal(text) {
  const mark = document.documentElement.dataset.decimal ?? ".";
  return String(text).replace(".", mark).replace(/^-/, "\u2212");
}

/** The same number without zeros at its end, but with `least` places: "455.00" is "455". */
export function plain(text, least = 0) {
  const [whole, rest = ""] = String(text).split(".");
  const places = rest.replace(/0+$/, "").padEnd(Math.min(least, rest.length), "0");
  return places ? `${whole}.${places}` : whole;
}

loadWords();
