// What a person has typed and not saved yet, kept on this device for that person alone.
const PREFIX = "restheight-draft:";
const KEPT_MS = 12 * 3600 * 1000;

/** A draft of `person` at `place`. Another person on the same tablet never sees it. */
export function draftOf(person, place) {
  const key = `${PREFIX}${person}:${place}`;
  return {
    load() {
      try {
        const kept = JSON.parse(localStorage.getItem(key) ?? "null");
        return kept && Date.now() - kept.at < KEPT_MS ? kept.draft : null;
      } catch {
        return null;
      }
    },
    keep(draft) {
      try {
        localStorage.setItem(key, JSON.stringify({ at: Date.now(), draft }));
      } catch {
        // a private window keeps no draft; typing goes on
      }
    },
    forget() {
      try {
        localStorage.removeItem(key);
      } catch {
        // nothing was kept
      }
    },
  };
}
