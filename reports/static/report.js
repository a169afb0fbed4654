/* Draws the figures, lets tables sort, filter and copy, and readies the page for paper. Sends nothing anywhere. */
"use strict";
(() => {
  const LIGHT = { ink: "#1d1a16", soft: "#5d564a", rule: "#d2cabb", wash: "#e8e2d4", paper: "#fbf9f4", accent: "#8c3518" };
  const PAPER = { full: 680, half: 342, third: 342 };
  const PRINT_SCALE = 0.78;
  const TALLEST = 545; // a case with its heading, caption and readings on one sheet
  const SMALLEST = 0.58; // of the size of letters on screen, where a figure is squeezed to that
  const options = document.getElementById("figure-options");
  const config = options ? JSON.parse(options.textContent) : {};
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const charts = [...document.querySelectorAll(".chart")];
  const drawn = new Set();
  const said = document.getElementById("said");

  function figureOf(chart, print) {
    let text = chart.nextElementSibling.textContent;
    if (dark.matches && !print) {
      const now = getComputedStyle(document.documentElement);
      for (const [name, colour] of Object.entries(LIGHT)) {
        text = text.replaceAll(colour, now.getPropertyValue(`--${name}`).trim());
      }
    }
    if (!print) return JSON.parse(text);
    const size = chart.closest("figure").className;
    const wanted = Number(chart.dataset.height) * (size === "full" ? 0.82 : 0.72);
    const height = Math.min(wanted, TALLEST);
    const scale = Math.max(PRINT_SCALE * (height / wanted), Math.min(SMALLEST, PRINT_SCALE));
    const shrunk = new Set(height < wanted ? ["size", "yshift", "t"] : ["size"]);
    const figure = JSON.parse(text, (key, value) => (shrunk.has(key) && typeof value === "number" ? value * scale : value));
    figure.layout.width = PAPER[size] || PAPER.full;
    figure.layout.height = height;
    return figure;
  }

  function draw(chart, print = false) {
    const figure = figureOf(chart, print);
    chart.style.height = `${figure.layout.height}px`;
    Plotly.react(chart, figure.data, figure.layout, { ...config, responsive: !print });
    drawn.add(chart);
  }

  function drawNext(queue) {
    const chart = queue.shift();
    if (!chart) {
      document.documentElement.dataset.drawn = String(drawn.size);
      return;
    }
    if (!drawn.has(chart)) draw(chart);
    setTimeout(drawNext, 0, queue);
  }

  const closed = [];
  addEventListener("beforeprint", () => {
    for (const fold of document.querySelectorAll("details:not([open])")) {
      fold.open = true;
      closed.push(fold);
    }
    for (const chart of charts) draw(chart, true);
  });
  addEventListener("afterprint", () => {
    for (const fold of closed.splice(0)) fold.open = false;
    for (const chart of charts) draw(chart);
  });
  dark.addEventListener("change", () => charts.forEach((chart) => draw(chart)));

  function openTarget() {
    const target = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    for (let fold = target && target.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    if (target) target.scrollIntoView();
  }
  addEventListener("hashchange", openTarget);

  const compare = new Intl.Collator("en", { numeric: true }).compare;
  function sortBy(table, place, heading) {
    const direction = heading.getAttribute("aria-sort") === "ascending" ? -1 : 1;
    for (const other of heading.parentElement.children) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", direction === 1 ? "ascending" : "descending");
    const body = table.tBodies[0];
    const keyed = [...body.rows].map((row) => {
      const cell = row.cells[place];
      const text = cell.textContent.trim();
      return { row, key: cell.dataset.key ?? text, unknown: text === "\u2013" || text === "" };
    });
    keyed.sort((a, b) => a.unknown - b.unknown || direction * (Number(a.key) - Number(b.key) || compare(a.key, b.key)));
    body.append(...keyed.map((item) => item.row));
    said.textContent = `Sorted by ${heading.textContent.trim()}, ${direction === 1 ? "ascending" : "descending"}`;
  }

  function copyOf(table) {
    const defused = (text) => (/^[=+\-@\t\r]/.test(text) ? `'${text}` : text);
    return [...table.rows].filter((row) => !row.hidden)
      .map((row) => [...row.cells].map((cell) => defused(cell.textContent.trim())).join("\t")).join("\n");
  }

  async function copy(text) {
    try {
      await navigator.clipboard.writeText(text);
    } catch {
      const box = document.createElement("textarea");
      box.value = text;
      document.body.append(box);
      box.select();
      document.execCommand("copy");
      box.remove();
    }
    said.textContent = "Table copied";
  }

  function button(words, action) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = words;
    made.addEventListener("click", action);
    return made;
  }

  for (const box of document.querySelectorAll(".table")) {
    const table = box.querySelector("table");
    const rows = [...table.tBodies[0].rows];
    if (rows.length > 1) {
      [...table.tHead.rows[0].cells].forEach((heading, place) => {
        const words = heading.textContent;
        heading.replaceChildren(button(words, () => sortBy(table, place, heading)));
      });
    }
    const tools = document.createElement("div");
    tools.className = "tools";
    if (rows.length > 8) {
      const label = document.createElement("label");
      const field = document.createElement("input");
      field.type = "search";
      field.addEventListener("input", () => {
        const wanted = field.value.toLowerCase();
        for (const row of rows) row.hidden = !row.textContent.toLowerCase().includes(wanted);
        said.textContent = `${rows.filter((row) => !row.hidden).length} rows shown`;
      });
      label.append("Rows with ", field);
      tools.append(label);
    }
    tools.append(button("Copy table", () => copy(copyOf(table))));
    box.after(tools);
  }

  openTarget();
  drawNext(charts.slice());
})();
