// Plotly in the product's own face. Only pages whose view is marked `with_charts` load Plotly
// (a deferred classic script); their modules run after it.

/** A token's colour as the browser resolves it now, light or dark. */
export function token(name) {
  const probe = document.createElement("span");
  probe.style.setProperty("color", `var(--${name})`);
  document.body.append(probe);
  const colour = getComputedStyle(probe).color;
  probe.remove();
  return colour;
}

function axisTemplate() {
  return {
    showgrid: false, zeroline: false, showline: true, linecolor: token("edge"), linewidth: 1,
    ticks: "outside", ticklen: 6, tickcolor: token("edge"), color: token("ink-2"),
    gridcolor: token("line"), automargin: true, exponentformat: "none",
  };
}

export function template() {
  const family = getComputedStyle(document.body).fontFamily;
  return {
    layout: {
      font: { family, size: 13, color: token("ink-2") },
      title: { font: { family, size: 18, color: token("ink") }, x: 0, xanchor: "left" },
      paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)",
      colorway: [token("solid"), token("edge"), token("piece")],
      showlegend: false, hovermode: "closest", dragmode: false,
      margin: { l: 56, r: 16, t: 16, b: 44 },
      separators: `${document.documentElement.dataset.decimal ?? "."}\u202f`,
      hoverlabel: { bgcolor: token("surface"), bordercolor: token("edge"),
        font: { family, size: 14, color: token("ink") } },
      xaxis: axisTemplate(), yaxis: { ...axisTemplate(), showgrid: true },
      annotationdefaults: { font: { family, size: 13, color: token("ink-2") }, showarrow: false },
    },
  };
}

const CONFIG = { displayModeBar: false, responsive: true, displaylogo: false };

/** Colours in a figure may be written as token names ("token:solid"). */
export function withTokens(value) {
  if (typeof value === "string" && value.startsWith("token:")) return token(value.slice(6));
  if (Array.isArray(value)) return value.map(withTokens);
  if (value && typeof value === "object") {
    return Object.fromEntries(Object.entries(value).map(([key, item]) => [key, withTokens(item)]));
  }
  return value;
}

function drawNow(box, figure) {
  const { data, layout = {} } = withTokens(figure);
  return window.Plotly.react(box, data, { ...layout, template: template() }, CONFIG);
}

/** Draw, and again when the theme changes. `figure` is {data, layout} from the server. */
export function drawChart(box, figure) {
  const again = () => drawNow(box, figure);
  document.addEventListener("theme-changed", again);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
  return again();
}
