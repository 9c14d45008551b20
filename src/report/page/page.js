"use strict";
(() => {
  const table = document.getElementById("all");
  if (!table) return;
  const body = table.tBodies[0];
  const rows = [...body.rows];
  const heads = [...table.tHead.rows[0].cells];
  const tools = document.getElementById("tools");
  const cell = (row, column) => row.cells[column];
  const text = (row, column) => cell(row, column).textContent.trim();

  const sort = (column) => {
    const head = heads[column];
    const up = head.getAttribute("aria-sort") !== "ascending";
    heads.forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
    const numeric = head.classList.contains("n");
    const value = (row) => {
      const v = cell(row, column).dataset.v;
      return v === undefined ? NaN : Number(v);
    };
    rows.sort((a, b) => {
      if (!numeric) return (up ? 1 : -1) * text(a, column).localeCompare(text(b, column), "en", { numeric: true });
      const [x, y] = [value(a), value(b)];
      // What is not measurable stays at the end, whichever way the column is sorted.
      if (Number.isNaN(x) || Number.isNaN(y)) return Number(Number.isNaN(x)) - Number(Number.isNaN(y));
      return (up ? 1 : -1) * (x - y);
    });
    body.append(...rows);
  };

  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    button.addEventListener("click", () => sort(column));
    head.append(button);
  });

  const column = (label) => heads.findIndex((head) => head.textContent.trim() === label);
  const verdictColumn = column("verdict");
  const chosen = (id) => document.getElementById(id).value;
  const filter = () => {
    const [prep, verdict] = [chosen("by-prep"), chosen("by-verdict")];
    const words = chosen("by-words").toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of rows) {
      const all = row.textContent.toLowerCase();
      const keep = (!prep || row.dataset.prep === prep) && (!verdict || text(row, verdictColumn).endsWith(verdict)) && words.every((word) => all.includes(word));
      row.hidden = !keep;
      shown += Number(keep);
    }
    document.getElementById("count").textContent = `${shown} of ${rows.length} starts`;
  };
  for (const id of ["by-prep", "by-verdict", "by-words"]) document.getElementById(id).addEventListener("input", filter);
  tools.hidden = false;
  filter();
})();
