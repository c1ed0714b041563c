// What a preview says, as tables and fields. Nothing here asks the server.
import { element, mark } from "../../labsite/js/dom.js";
import { word } from "../../labsite/js/words.js";
import { dayAndTime } from "../../labsite/js/clock.js";

const MOST_BAD_SHOWN = 100;

function table(headers, rows, caption = null) {
  return element("table", { class: "table" },
    caption ? element("caption", { text: caption }) : null,
    element("thead", {}, element("tr", {},
      ...headers.map((text) => element("th", { scope: "col", text })))),
    element("tbody", {}, ...rows));
}

function rowHead(number) {
  return element("th", { scope: "row", text: number });
}

function show(box, isShown) {
  box.hidden = !isShown;
}

export function titleOf(preview) {
  const file = preview.file.name;
  if (preview.earlier) return word("imports.title_earlier", { file });
  if (preview.bad.length) return word("imports.title_bad", { file, count: preview.bad.length });
  if (!preview.ready) return word("imports.title_question", { file });
  return word("imports.title_ready", { file, rows: preview.row_count });
}

export function showEarlier(box, earlier) {
  show(box, Boolean(earlier));
  if (!earlier) return;
  box.querySelector("p").textContent = word("imports.earlier", {
    who: earlier.imported_by.name,
    when: dayAndTime(new Date(earlier.imported_at)),
    file: earlier.file_name,
    counts: earlier.counts_text,
  });
}

export function showBad(box, bad) {
  show(box, bad.length > 0);
  const shown = bad.slice(0, MOST_BAD_SHOWN);
  const headers = ["row", "column", "found", "expected"].map((name) => word(`imports.${name}`));
  box.querySelector("[data-bad-table]").replaceChildren(table(headers, shown.map((item) =>
    element("tr", {}, rowHead(item.row),
      element("td", { text: item.column || word("imports.whole_row") }),
      element("td", { text: item.value || (item.column ? word("imports.empty") : "") }),
      element("td", { class: "import-sentence", text: item.expected })))));
  const more = box.querySelector("[data-bad-more]");
  show(more, bad.length > shown.length);
  more.textContent = word("imports.more_bad", { count: bad.length - shown.length });
}

export function showRemarks(box, remarks) {
  show(box, remarks.length > 0);
  const headers = ["row", "column", "found", "look"].map((name) => word(`imports.${name}`));
  box.querySelector("[data-remarks-table]").replaceChildren(table(headers, remarks.map((item) =>
    element("tr", {}, rowHead(item.row), element("td", { text: item.column }),
      element("td", { text: item.value }),
      element("td", { class: "import-sentence", text: item.text })))));
}

function option(own, value) {
  return element("option", { value: own.value, text: own.label, selected: own.value === value });
}

function choiceOf(guess) {
  const id = `import-${guess.name}`;
  const nothing = guess.is_question
    ? element("option", { value: "", text: word("imports.choose"), selected: true }) : null;
  return element("div", { class: guess.is_question ? "field import-guess-asked" : "field" },
    element("label", { for: id, text: word(`imports.guess.${guess.name}`) }),
    element("select", { id, name: guess.name, "aria-describedby": `${id}-hint` },
      nothing, ...guess.options.map((own) => option(own, guess.value))),
    element("p", { class: "hint", id: `${id}-hint` },
      guess.is_question ? mark("flag-look", "mark-look") : null,
      element("span", { text: guess.is_question ? guess.text : guess.why })));
}

function sentenceOf(guess) {
  return element("div", { class: "field" },
    element("p", { class: "label", text: word(`imports.guess.${guess.name}`) }),
    element("p", { text: guess.text }),
    guess.why ? element("p", { class: "hint", text: guess.why }) : null);
}

export function showGuesses(box, guesses) {
  box.replaceChildren(...guesses.map((guess) =>
    guess.options.length > 1 ? choiceOf(guess) : sentenceOf(guess)));
}

function cell(value) {
  return value === null
    ? element("td", { class: "import-unread", text: word("imports.not_read") })
    : element("td", { text: value });
}

function headerOf(column) {
  return column.unit ? `${column.label}, ${column.unit}` : column.label;
}

/** What happened, where it is read out. */
export function tell(box, text) {
  box.replaceChildren(element("div", { class: "banner" }, mark("flag-know", "mark-know"),
    element("p", { text })));
}

export function showRows(box, preview) {
  const shown = preview.rows.length;
  const caption = shown < preview.row_count
    ? word("imports.first_rows", { shown, rows: preview.row_count })
    : word("imports.all_rows", { rows: preview.row_count });
  box.replaceChildren(table(
    [word("imports.row"), ...preview.columns.map(headerOf)],
    preview.rows.map((row) => element("tr", {}, rowHead(row.row), ...row.values.map(cell))),
    caption));
}
