// Rows of a formset: add, remove with undo, move by hand or keys, paste from a spreadsheet.
// Without this file the spare rows, the Remove tick and the Order number do the same.
"use strict";

(() => {
  const copyOf = (group, name) =>
    group.querySelector(`template[data-row-${name}]`).content.cloneNode(true);
  const body = (group) => group.querySelector("[data-rows-body]");
  const rowsOf = (group) => [...body(group).querySelectorAll(":scope > [data-row]")];
  const shownRows = (group) => rowsOf(group).filter((row) => !row.hidden);
  const fieldsOf = (row) =>
    [...row.querySelectorAll("input, select, textarea")].filter(
      (field) =>
        field.type !== "hidden" && !field.closest("[data-row-order], [data-row-delete]"),
    );
  // entries that no column of a spreadsheet stands for are marked so
  const columnsOf = (row) => fieldsOf(row).filter((field) => !("noColumn" in field.dataset));
  const say = (group, text) => {
    group.querySelector("[data-rows-say]").textContent = text;
  };
  const nameOf = (row) =>
    fieldsOf(row).find((field) => field.type === "text" && field.value)?.value ||
    `row ${shownRows(row.closest("[data-rows]")).indexOf(row) + 1}`;

  // A row may be a line that opens to its entries: what gets the focus has to be open.
  const focusFirst = (row) => {
    const field = fieldsOf(row)[0];
    const closed = row.querySelector(":scope > details:not([open])");
    if (closed) closed.open = true;
    field?.focus();
  };

  const tellChange = (group) => {
    group.dispatchEvent(new CustomEvent("rows:changed", { bubbles: true }));
    // For everything that listens to typing, such as a price that answers at once.
    group.dispatchEvent(new Event("change", { bubbles: true }));
  };

  const shownValue = (field) => (field.type === "checkbox" ? field.checked : field.value);
  const management = (group, name) =>
    group.closest("form").elements[`${group.dataset.prefix}-${name}`];

  // A spare row must stay as the server made it: one with an order counts as filled in.
  const isSpare = (group, row, untouched) => {
    const number = Number(fieldsOf(row)[0].name.slice(group.dataset.prefix.length + 1).split("-")[0]);
    if (number < Number(management(group, "INITIAL_FORMS").value)) return false;
    return fieldsOf(row).every((field, at) => shownValue(field) === shownValue(untouched[at]));
  };

  const numberRows = (group) => {
    const shown = shownRows(group);
    const untouched = fieldsOf(copyOf(group, "template").firstElementChild);
    shown.forEach((row, at) => {
      const order = row.querySelector("[data-row-order] input");
      if (order) order.value = isSpare(group, row, untouched) ? "" : at + 1;
      const up = row.querySelector("[data-row-up]");
      const down = row.querySelector("[data-row-down]");
      if (up) up.disabled = at === 0;
      if (down) down.disabled = at === shown.length - 1;
    });
  };

  const prepareRow = (group, row) => {
    const tools = row.querySelector(".row-tools");
    const order = row.querySelector("[data-row-order]");
    const tick = row.querySelector("[data-row-delete]");
    if (order) order.hidden = true;
    if (tick) tick.hidden = true;
    tools.prepend(copyOf(group, "tools"));
    if (order) (row.querySelector("[data-row-handle]") ?? tools).prepend(copyOf(group, "grip"));
  };

  const addRow = (group) => {
    const total = management(group, "TOTAL_FORMS");
    const most = management(group, "MAX_NUM_FORMS");
    if (Number(total.value) >= Number(most.value)) {
      say(group, `No more than ${most.value} rows fit.`);
      return null;
    }
    const row = copyOf(group, "template").firstElementChild;
    for (const element of row.querySelectorAll("*"))
      for (const attribute of element.attributes)
        if (attribute.value.includes("__prefix__"))
          attribute.value = attribute.value.replaceAll("__prefix__", total.value);
    total.value = Number(total.value) + 1;
    body(group).append(row);
    prepareRow(group, row);
    window.htmx?.process(row);
    return row;
  };

  const hideRow = (group, row) => {
    const name = nameOf(row);
    row.querySelector("[data-row-delete] input").checked = true;
    row.hidden = true;
    const note = document.createElement(row.tagName);
    note.className = "row-removed";
    const cell = row.cells ? note.insertCell() : note;
    if (row.cells) cell.colSpan = row.cells.length;
    cell.append(`Removed ${name}.`, copyOf(group, "undo"));
    cell.querySelector("[data-row-bring-back]").addEventListener("click", () => {
      row.querySelector("[data-row-delete] input").checked = false;
      row.hidden = false;
      note.remove();
      numberRows(group);
      focusFirst(row);
      say(group, `${name} is back.`);
      tellChange(group);
    });
    row.after(note);
    numberRows(group);
    return note;
  };

  const removeRow = (group, row) => {
    const name = nameOf(row);
    hideRow(group, row).querySelector("button").focus();
    say(group, `Removed ${name}.${shownRows(group).length ? "" : " No rows are left."}`);
    tellChange(group);
  };

  const moveRow = (group, row, step) => {
    const shown = shownRows(group);
    const other = shown[shown.indexOf(row) + step];
    if (!other) return;
    const focused = document.activeElement;
    if (step < 0) other.before(row);
    else other.after(row);
    numberRows(group);
    if (row.contains(focused)) {
      // A button at the end of its way is disabled and cannot keep the focus.
      if (focused.disabled)
        row.querySelector(step < 0 ? "[data-row-down]" : "[data-row-up]")?.focus();
      else focused.focus();
    }
    say(group, `${nameOf(row)} is now row ${shownRows(group).indexOf(row) + 1}.`);
    tellChange(group);
  };

  const fill = (field, text) => {
    if (field.type === "checkbox") {
      field.checked = /^(1|x|y|yes|true)$/i.test(text);
    } else if (field.tagName === "SELECT") {
      const wanted = text.toLocaleLowerCase();
      const option = [...field.options].find(
        (one) => one.text.trim().toLocaleLowerCase() === wanted || one.value === text,
      );
      if (!option) return false;
      field.value = option.value;
    } else {
      field.value = text;
    }
    field.dispatchEvent(new Event("input", { bubbles: true }));
    return true;
  };

  const paste = (group, field, text) => {
    const lines = text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n");
    const row = field.closest("[data-row]");
    const first = columnsOf(row).indexOf(field);
    const unread = [];
    let at = shownRows(group).indexOf(row);
    let filled = 0;
    for (const line of lines) {
      const target = shownRows(group)[at] ?? addRow(group);
      if (!target) break;
      const places = columnsOf(target).slice(first);
      line.split("\t").forEach((value, column) => {
        if (places[column] && !fill(places[column], value.trim()) && value.trim())
          unread.push(value.trim());
      });
      at += 1;
      filled += 1;
    }
    numberRows(group);
    const left = lines.length - filled;
    say(
      group,
      `Filled ${filled} ${filled === 1 ? "row" : "rows"}.` +
        (unread.length ? ` Not in the list: ${[...new Set(unread)].join(", ")}.` : "") +
        (left ? ` ${left} lines did not fit.` : ""),
    );
    tellChange(group);
  };

  const startDrag = (group, row, event) => {
    event.preventDefault();
    row.classList.add("moving");
    const grip = event.target.closest("[data-row-drag]");
    grip.setPointerCapture(event.pointerId);
    // The other rows make way: taking the dragged row out of the page would end the drag.
    const follow = (move) => {
      const shown = shownRows(group);
      const from = shown.indexOf(row);
      const middle = (one) => {
        const box = one.getBoundingClientRect();
        return box.top + box.height / 2;
      };
      for (let at = from + 1; at < shown.length && move.clientY > middle(shown[at]); at += 1)
        row.before(shown[at]);
      for (let at = from - 1; at >= 0 && move.clientY < middle(shown[at]); at -= 1)
        row.after(shown[at]);
    };
    const stop = () => {
      row.classList.remove("moving");
      grip.removeEventListener("pointermove", follow);
      numberRows(group);
      say(group, `${nameOf(row)} is now row ${shownRows(group).indexOf(row) + 1}.`);
      tellChange(group);
    };
    grip.addEventListener("pointermove", follow);
    grip.addEventListener("lostpointercapture", stop, { once: true });
  };

  const prepareGroup = (group) => {
    if ("rowsReady" in group.dataset) return;
    group.dataset.rowsReady = "";
    for (const row of rowsOf(group)) {
      prepareRow(group, row);
      // A row that came back from an error page with its Remove tick set stays removed.
      if (row.querySelector("[data-row-delete] input")?.checked) hideRow(group, row);
    }
    numberRows(group);
    // Rows typed since the last move get their number just before they are sent.
    group.closest("form").addEventListener("submit", () => numberRows(group), { capture: true });
    const add = group.querySelector("[data-row-add]");
    add.hidden = false;
    add.addEventListener("click", () => {
      const row = addRow(group);
      if (!row) return;
      numberRows(group);
      focusFirst(row);
      tellChange(group);
    });
    group.addEventListener("click", (event) => {
      const row = event.target.closest("[data-row]");
      if (!row) return;
      if (event.target.closest("[data-row-remove]")) removeRow(group, row);
      else if (event.target.closest("[data-row-up]")) moveRow(group, row, -1);
      else if (event.target.closest("[data-row-down]")) moveRow(group, row, 1);
    });
    group.addEventListener("keydown", (event) => {
      const row = event.target.closest("[data-row]");
      if (!row || !event.altKey || !row.querySelector("[data-row-order]")) return;
      if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
      // There Alt + arrow opens the list or the calendar.
      if (event.target.matches("select, input[type=date], input[type=time]")) return;
      event.preventDefault();
      moveRow(group, row, event.key === "ArrowUp" ? -1 : 1);
    });
    group.addEventListener("pointerdown", (event) => {
      const row = event.target.closest("[data-row]");
      if (row && event.target.closest("[data-row-drag]")) startDrag(group, row, event);
    });
    group.addEventListener("paste", (event) => {
      // on the line of a row the cells begin with its first entry
      const line = event.target.closest("[data-row] > details > summary");
      const field = line ? fieldsOf(line.closest("[data-row]"))[0] : event.target.closest("input, select");
      const text = event.clipboardData?.getData("text/plain") ?? "";
      if (!field || !field.closest("[data-row]") || !/[\t\n]/.test(text.trimEnd())) return;
      if ("noColumn" in field.dataset) return;
      event.preventDefault();
      paste(group, field, text);
    });
  };

  const prepareAll = (root) => {
    for (const group of root.querySelectorAll("[data-rows]")) prepareGroup(group);
  };
  document.addEventListener("DOMContentLoaded", () => prepareAll(document));
  document.addEventListener("htmx:load", (event) => prepareAll(event.target));
})();
