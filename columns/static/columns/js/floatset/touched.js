// Which determinations rest on a set, told before it is amended.
import { get } from "../../../labsite/js/api.js";
import { element, mark } from "../../../labsite/js/dom.js";
import { word } from "../../../labsite/js/words.js";

function line({ lot, status }) {
  const released = status === "released";
  const text = word(released ? "set.touched_released" : "set.touched_line",
    { lot: lot.code, status: word(`set.status_${status}`) });
  return element("li", { class: "flag flag-line" },
    mark(released ? "flag-look" : "flag-know", released ? "mark-look" : "mark-know"),
    element("span", { text }));
}

export async function loadTouched(place, set) {
  const { data } = await get(`/api/v1/float-sets/${set}/amendment-preview/`);
  const { determinations } = data;
  place.replaceChildren(element("p", { class: "second",
    text: word(determinations.length ? "set.touched" : "set.touched_none") }),
  element("ul", { class: "flags" }, ...determinations.map(line)));
}
