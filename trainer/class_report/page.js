"use strict";
// Sorting by a click on a head, filtering by name and by what became of a result; no network.
for (const table of document.querySelectorAll("table.sortable")) {
  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    const button = head.querySelector("button");
    if (!button) return;
    button.addEventListener("click", () => {
      const rising = head.getAttribute("aria-sort") !== "ascending";
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", rising ? "ascending" : "descending");
      const value = (row) => row.cells[column].dataset.v ?? row.cells[column].textContent.trim();
      const body = table.tBodies[0];
      const rows = [...body.rows].map((row) => [value(row), row]);
      const isNumber = rows.every(([v]) => v === "" || !Number.isNaN(Number(v)));
      rows.sort(([a], [b]) => {
        // What has no figure comes last, whichever way it goes.
        if (a === "" || b === "") return (a === "") - (b === "");
        const order = isNumber ? Number(a) - Number(b) : a.localeCompare(b);
        return rising ? order : -order;
      });
      body.append(...rows.map(([, row]) => row));
    });
  });
}
const search = document.getElementById("search");
const state = document.getElementById("state");
const shown = document.getElementById("shown");
const filter = () => {
  const wanted = search.value.normalize("NFKC").toLowerCase().trim();
  let count = 0;
  for (const each of document.querySelectorAll("[data-name]")) {
    const fits = each.dataset.name.includes(wanted);
    const inState = state.value === "" || (each.dataset.state ?? "").split(" ").includes(state.value);
    each.hidden = !(fits && inState);
    if (!each.hidden && each.tagName === "DETAILS") count += 1;
  }
  shown.textContent = `${count} shown`;
};
search.addEventListener("input", filter);
state.addEventListener("change", filter);
filter();
window.addEventListener("beforeprint", () => {
  for (const each of document.querySelectorAll("details.one:not([hidden])")) each.open = true;
});
