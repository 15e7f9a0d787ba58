// Rows of a formset on a phone: a line each that opens where it is tapped, one at a time. On a wide
// page all are open in their table, and without this file everywhere.
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  const entriesIn = (part) => [...part.querySelectorAll("input, select, textarea")];
  const entriesOf = (row) =>
    [...row.querySelectorAll("td:not(.row-tools) :is(input, select, textarea)")].filter(
      (field) => field.type !== "hidden",
    );
  const typed = (row) => entriesOf(row).filter((field) => field.type === "text" && field.value.trim());
  const isEmpty = (row) => typed(row).length === 0;

  const prepare = (group) => {
    const body = group.querySelector("[data-rows-body]");
    const rows = () => [...body.querySelectorAll(":scope > [data-row]")];

    const tell = (row) => {
      if (!isEmpty(row)) row.classList.remove("spare");
      const [name, ...others] = entriesOf(row);
      const words = [name.value.trim() || `Line ${rows().indexOf(row) + 1}`];
      const amounts = others.filter((one) => one.inputMode || one.matches(".amount"));
      for (const field of amounts.filter((one) => one.value.trim())) {
        const value = field.value.trim();
        const unit = field.closest(".with-unit")?.querySelector(".suffix")?.textContent.trim();
        // "3" are packs, "12 m" say their unit themselves
        if (unit) words.push(`${value} ${unit}`);
        else words.push(/^[\d.,]+$/.test(value) ? `${value} ×` : value);
      }
      row.querySelector(".row-line").textContent = words.join(", ");
    };

    const show = (row, isOpen) => {
      row.classList.toggle("closed", !isOpen);
      row.querySelector(".row-line").setAttribute("aria-expanded", String(isOpen));
    };

    const openOnly = (row) => {
      for (const other of rows())
        if (other !== row && !other.classList.contains("has-error")) show(other, false);
      show(row, true);
    };

    const addLine = (row) => {
      if (row.querySelector(".row-line")) return;
      const line = document.createElement("button");
      line.type = "button";
      line.className = "row-line";
      row.querySelector(".row-tools").prepend(line);
      line.addEventListener("click", () => {
        if (!row.classList.contains("closed")) show(row, false);
        else {
          openOnly(row);
          entriesOf(row)[0].focus();
        }
      });
      tell(row);
    };

    for (const row of rows()) addLine(row);
    const first = rows().every(isEmpty) ? rows()[0] : undefined;
    for (const row of rows()) {
      show(row, row === first || row.classList.contains("has-error"));
      // without this file there is no button that adds a row
      row.classList.toggle("spare", row !== first && isEmpty(row));
    }
    group.classList.add("rows-lines");

    // A spare row that is folded away is the next line: another one would skip its number.
    const foldedSpare = () =>
      rows().find((row) => row.classList.contains("spare") && row.getClientRects().length === 0);
    const openSpare = (event) => {
      const spare = event.target.closest("[data-row-add]") ? foldedSpare() : undefined;
      if (!spare) return;
      event.stopPropagation();
      spare.classList.remove("spare");
      openOnly(spare);
      entriesOf(spare)[0].focus();
    };
    group.addEventListener("click", openSpare, { capture: true });

    group.addEventListener("input", (event) => {
      const row = event.target.closest("[data-row]");
      if (row) tell(row);
    });
    // rows that are added, brought back or filled from a spreadsheet
    group.addEventListener("rows:changed", () => {
      for (const row of rows()) {
        const isNew = !row.querySelector(".row-line");
        addLine(row);
        if (isNew) openOnly(row);
        tell(row);
      }
    });
  };

  for (const group of document.querySelectorAll("[data-rows-as-lines]")) prepare(group);

  // What is seldom filled in is folded on a phone while it is empty.
  if (window.matchMedia("(max-width: 40em)").matches)
    for (const part of document.querySelectorAll("details[data-folds-on-phone]"))
      if (!part.querySelector(".has-error") && entriesIn(part).every((field) => !field.value))
        part.open = false;
});
