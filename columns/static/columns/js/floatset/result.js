// What a saved set gave: misfits, the slope of each gap, what was found.
import { element, mark } from "../../../labsite/js/dom.js";
import { decimal, word } from "../../../labsite/js/words.js";

function signed(figure) {
  if (figure === null) return "–";
  return Number(figure) > 0 ? `+${decimal(figure)}` : decimal(figure);
}

function cells(head, figures, marked) {
  return element("tr", { class: marked ? "marked" : null }, element("th", { scope: "row", text: head }),
    ...figures.map((text) => element("td", { class: "num", text })));
}

function misfitRow(float, largest) {
  return cells(float.label, [decimal(float.height_mm), signed(float.residual_mm),
    signed(float.residual_g_cm3)], float.label === largest);
}

function gapRow(gap) {
  return cells(word("set.gap", { upper: gap.upper_float, lower: gap.lower_float }),
    [decimal(gap.length_mm), decimal(gap.slope_g_cm3_per_mm)]);
}

function finding({ level, message }) {
  return element("li", { class: "flag" }, mark(`flag-${level}`, `mark-${level}`),
    element("p", { text: message }));
}

function largestOf(floats) {
  const known = floats.filter((float) => float.residual_mm !== null);
  const size = (float) => Math.abs(Number(float.residual_mm));
  return known.reduce((most, float) => (!most || size(float) > size(most) ? float : most), null)?.label;
}

export function showResult(root, { calibration }, names) {
  const { shown, passes } = calibration;
  const title = root.querySelector("[data-result-title]");
  title.textContent = word(passes ? "set.passes" : "set.fails");
  root.querySelector("[data-misfits]").replaceChildren(
    ...shown.floats.map((float) => misfitRow(float, largestOf(shown.floats))));
  root.querySelector("[data-gaps]").replaceChildren(...shown.gaps.map(gapRow));
  root.querySelector("[data-findings]").replaceChildren(...shown.findings.map(finding));
  root.querySelector("[data-figures]").replaceChildren(
    ...[[names.correlation, shown.correlation], [names.sensitivity, shown.sensitivity_g_cm3_per_mm]]
      .flatMap(([name, figure]) => [element("dt", { text: name }),
        element("dd", { text: figure === null ? "–" : decimal(figure) })]));
  root.hidden = false;
  title.focus();
}
