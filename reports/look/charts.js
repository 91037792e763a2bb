// Draws the figures of a page. Colours come from the style sheet, so that light, dark
// and paper need no figures of their own.
"use strict";
(() => {
  const source = document.getElementById("chart-data");
  if (!source || !window.Plotly) return;
  const figures = JSON.parse(source.textContent);
  const root = document.documentElement;
  const PAPER = { width: 640, height: 0.82 };

  const coloured = (value, style) => {
    if (typeof value === "string") {
      return value.startsWith("@") ? style.getPropertyValue("--" + value.slice(1)).trim() : value;
    }
    if (Array.isArray(value)) return value.map((each) => coloured(each, style));
    if (value && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, coloured(v, style)]));
    }
    return value;
  };

  const draw = (box, paper) => {
    const style = getComputedStyle(root);
    const figure = coloured(figures[box.id], style);
    const narrow = (paper ? paper.width : box.clientWidth) < 520;
    const layout = {
      ...figure.layout,
      paper_bgcolor: "rgba(0,0,0,0)",
      plot_bgcolor: "rgba(0,0,0,0)",
      font: { family: style.fontFamily, size: paper ? 10 : narrow ? 11 : 13, color: style.getPropertyValue("--ink").trim() },
      hoverlabel: {
        bgcolor: style.getPropertyValue("--card").trim(),
        bordercolor: style.getPropertyValue("--ink").trim(),
        font: { color: style.getPropertyValue("--ink").trim() },
      },
      dragmode: false,
      height: Number(box.dataset.height) * (paper ? paper.height : 1),
      ...(paper ? { width: paper.width } : {}),
    };
    return window.Plotly.react(box, figure.data, layout, { displayModeBar: false, responsive: !paper });
  };

  const boxes = [...document.querySelectorAll(".plot")].filter((box) => figures[box.id]);
  const drawAll = (paper) => Promise.all(boxes.map((box) => draw(box, paper)));

  drawAll().then(() => { root.dataset.drawn = String(boxes.length); });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => drawAll());
  addEventListener("beforeprint", () => { root.classList.add("on-paper"); drawAll(PAPER); });
  addEventListener("afterprint", () => { root.classList.remove("on-paper"); drawAll(); });
})();
