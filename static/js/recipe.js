// Keeps the recipe editor in step with what is typed: names of materials' uses and of choices
// in every list and in the lines of closed rows, entries that only some rows need, sizes that are
// typed once for all pieces, Alt + Enter to the next row.
"use strict";

(() => {
  const form = document.querySelector("form[data-recipe]");
  if (!form) return;
  const rowsOf = (key) =>
    [...form.querySelectorAll(`[data-rows][data-prefix="${key}"] [data-rows-body] > [data-row]`)].filter(
      (row) => !row.hidden,
    );
  const entry = (row, name) => row.querySelector(`[name$="-${name}"]`);
  const typed = (row, name) => entry(row, name)?.value.trim().replace(/\s+/g, " ") ?? "";
  const everywhere = (selector) => [
    ...form.querySelectorAll(selector),
    ...[...form.querySelectorAll("template[data-row-template]")].flatMap((template) => [
      ...template.content.querySelectorAll(selector),
    ]),
  ];

  // Names that rows can refer to, and the row each comes from.
  const roleNames = () =>
    rowsOf("roles")
      .filter((row) => typed(row, "name"))
      .map((row) => {
        const name = typed(row, "name");
        const material = typed(row, "material");
        return { row, name, label: material && material !== name ? `${name} (${material})` : name };
      });
  const choiceNames = () => {
    let option = "";
    return rowsOf("choices")
      .filter((row) => typed(row, "name"))
      .map((row) => {
        option = typed(row, "option") || option;
        const name = `${option}: ${typed(row, "name")}`;
        return { row, name, label: name };
      });
  };

  const refresh = (selector, names, before) => {
    const renamed = new Map();
    for (const { row, name } of names) {
      const old = before.get(row);
      if (old && old !== name && !names.some((one) => one.name === old)) renamed.set(old, name);
      before.set(row, name);
    }
    for (const select of everywhere(selector)) {
      const value = renamed.get(select.value) ?? select.value;
      const options = names.map(({ name, label }) => new Option(label, name));
      if (value && !names.some(({ name }) => name === value)) options.push(new Option(value, value));
      select.replaceChildren(select.options[0], ...options);
      select.value = value;
    }
  };
  const rolesBefore = new Map();
  const choicesBefore = new Map();
  const refreshRoles = () => refresh("select[name$='-role']", roleNames(), rolesBefore);
  const refreshChoices = () =>
    refresh("select[name$='-only_with'], select[name$='-not_with']", choiceNames(), choicesBefore);

  // Entries that mean something for some rows only: [section, deciding entry, entry, for which].
  const needs = [
    ["steps", "basis", "per", ["batch", "pass", "rack", "night"]],
    ["steps", "basis", "role", ["sheet", "pass"]],
    ["steps", "basis", "times", ["rack"]],
    ["steps", "basis", "window_minutes", ["rack"]],
    ["wears", "basis", "role", ["sheet", "pass"]],
    ["pieces", "shape", "die_margin_mm", ["die"]],
    ["pieces", "shape", "width_mm", ["rectangle", "die"]],
    ["pieces", "shape", "height_mm", ["rectangle", "die"]],
    ["pieces", "shape", "form", ["form"]],
    ["pieces", "role", "other", [""]],
    ["fixings", "role", "other", [""]],
    ["fixings", "measure", "rate", ["bead", "area", "form_bead", "form_area", "cut"]],
  ];
  const showNeeded = (row, section) => {
    for (const [of, decides, name, wanted] of needs) {
      const field = of === section && entry(row, name);
      if (!field) continue;
      const isNeeded = wanted.includes(entry(row, decides).value) || field.matches("[aria-invalid]");
      (field.closest("[data-cell]") ?? field.closest(".field")).classList.toggle("off", !isNeeded);
      if (field.tagName !== "SELECT") continue;
      // A choice that cannot be seen must not be sent; it comes back with its place.
      if (!isNeeded && field.value) {
        field.dataset.kept = field.value;
        field.value = "";
      } else if (isNeeded && field.dataset.kept) {
        field.value = field.dataset.kept;
        delete field.dataset.kept;
      }
    }
  };
  // Glue by the line begins with what a bead 2 mm wide takes; anything typed stays.
  const offerBead = (row) => {
    const rate = entry(row, "rate");
    const isLine = entry(row, "measure").value.endsWith("bead");
    if (isLine && !rate.value) rate.value = rate.dataset.offered = rate.dataset.bead;
    else if (!isLine && rate.dataset.offered && rate.value === rate.dataset.offered) rate.value = "";
  };
  // A form that came by pasting asks for its sizes as one that was chosen does.
  const askForSizes = () => {
    for (const row of rowsOf("pieces")) {
      const form = entry(row, "form");
      if (form?.value && !row.querySelector("[name*='-size-']"))
        form.dispatchEvent(new Event("change", { bubbles: true }));
    }
  };
  const showAllNeeded = () => {
    for (const section of ["steps", "wears", "pieces", "fixings"])
      for (const row of rowsOf(section)) showNeeded(row, section);
  };

  // The line of a closed row says what is typed in it, by the patterns the server gave.
  const told = (field) => {
    if (!field) return "";
    if (field.type === "checkbox") return field.checked ? field.labels[0].textContent.trim() : "";
    if (field.tagName === "SELECT") return field.value ? field.selectedOptions[0].text : "";
    return field.value.trim();
  };
  const withUnit = (text, unit) => (unit && text && !/\p{L}$/u.test(text) ? `${text} ${unit}` : text);
  const partOf = (row, { pattern, unit }, isSize) => {
    if (isSize && entry(row, "shape").value === "form") {
      const sizes = [...row.querySelectorAll(".form-sizes > .finished-sizes input[type='text']")];
      return withUnit(sizes.map(told).filter(Boolean).join(" × "), unit);
    }
    let lacks = false;
    const text = pattern.replace(/\{(\w+)(?:\?(\w+)=(\w+))?\}/g, (_, name, decides, wanted) => {
      if (decides && entry(row, decides).value !== wanted) return "";
      const words = told(entry(row, name));
      lacks ||= !words;
      return words;
    });
    return lacks ? "" : withUnit(text.trim(), unit);
  };
  // The swatch of a material that was there when the page was made; of another one there is none.
  const swatches = form.querySelector("[data-swatches]")?.content.children ?? [];
  const swatchOf = (row, name) => {
    let material = entry(row, name)?.value.trim();
    if (name === "role") {
      const role = rowsOf("roles").find((one) => entry(one, "name").value.trim() === material);
      material = role && entry(role, "material").value.trim();
    }
    const found = [...swatches].find((one) => one.dataset.material === material);
    return found ? [found.firstElementChild.cloneNode(true)] : [];
  };
  const tellLine = (row) => {
    const isSpare = isBlank(row);
    for (const [at, part] of row.querySelectorAll("[data-pattern]").entries()) {
      const text = isSpare ? "" : partOf(row, part.dataset, part.classList.contains("line-size"));
      const swatch = text && part.dataset.swatchOf ? swatchOf(row, part.dataset.swatchOf) : [];
      part.replaceChildren(...swatch, text || (at ? "" : "New row"));
    }
  };
  const tellLines = () => {
    for (const row of form.querySelectorAll("[data-rows-body] > [data-row]")) tellLine(row);
  };

  // A size typed once is written into every piece that has it.
  const spreadSize = (whole) => {
    const fields = whole.dataset.sizeOf.split(" ").map((id) => document.getElementById(id));
    for (const field of fields) {
      if (!field) continue;
      field.value = whole.value;
      tellLine(field.closest("[data-row]"));
    }
    const shown = form.querySelector(`[data-size-told="${fields[0]?.id}"]`);
    if (shown) shown.textContent = whole.value;
  };
  const tellWhole = (field) => {
    const whole = form.querySelector(`[data-size-of~="${field.id}"]`);
    if (!whole || whole.dataset.sizeOf.split(" ")[0] !== field.id) return;
    whole.value = field.value;
    form.querySelector(`[data-size-told="${field.id}"]`).textContent = field.value;
  };

  const isBlank = (row) =>
    [...row.querySelectorAll("[data-cell] > :is(input, select[name$='-role'])")].every(
      (field) => field.type === "checkbox" || field.value === field.defaultValue || !field.value,
    ) && !row.querySelector("[data-cell] > input[type='text']")?.value;

  // With a button for one more row, one spare row is enough, and only where there is no other.
  const dropSpareRows = () => {
    for (const group of form.querySelectorAll("[data-rows]")) {
      const rows = rowsOf(group.dataset.prefix);
      while (rows.length > 1 && isBlank(rows.at(-1))) rows.pop().remove();
    }
  };

  const firstField = (row) => row.querySelector("[data-cell] > :is(input:not([type='hidden']), select)");
  const openRow = (row) => {
    row.querySelector(":scope > details").open = true;
    firstField(row).focus();
  };
  const nextRow = (row) => {
    const group = row.closest("[data-rows]");
    const rows = rowsOf(group.dataset.prefix);
    const next = rows[rows.indexOf(row) + 1];
    if (next) openRow(next);
    else group.querySelector("[data-row-add]").click();
  };

  // One row of a section is open at a time; one that has to be put right stays open.
  const closeOthers = (row) => {
    for (const other of row.parentElement.querySelectorAll(":scope > [data-row]:not(.has-error) > details[open]"))
      if (other.parentElement !== row) other.open = false;
  };
  form.addEventListener(
    "toggle",
    (event) => {
      const row = event.target.parentElement;
      if (event.target.open && row?.matches("[data-row]")) closeOthers(row);
      const { section } = event.target.dataset;
      // the address the recipe is sent to names the section, and the browser keeps that name
      if (section && event.target.open) form.action = `${form.action.split("#")[0]}#${section}`;
    },
    { capture: true },
  );
  // Opened by keyboard, the focus goes on to the first entry; a finger may only want to look.
  form.addEventListener("click", (event) => {
    const summary = event.target.closest("summary");
    if (!summary || event.detail || summary.parentElement.open) return;
    const row = summary.closest("[data-row]");
    const section = summary.parentElement.dataset.section;
    const field = row
      ? summary.matches("[data-line]") && firstField(row)
      : summary.parentElement.querySelector("[data-row] > details[open] [data-cell] > :is(input, select), [data-whole-sizes] input");
    if (!field || !(row || section)) return;
    event.preventDefault();
    summary.parentElement.open = true;
    field.focus();
  });

  form.addEventListener("keydown", (event) => {
    const row = event.target.closest("[data-row]");
    if (!row) return;
    if (event.key === "Enter" && event.altKey) {
      event.preventDefault();
      nextRow(row);
    } else if (event.key === "Escape") {
      row.querySelector(":scope > details").open = false;
      row.querySelector("[data-line]").focus();
    }
  });
  form.addEventListener("input", (event) => {
    const group = event.target.closest("[data-rows]");
    if (group?.dataset.prefix === "roles") refreshRoles();
    if (group?.dataset.prefix === "choices") refreshChoices();
    if (event.target.dataset.sizeOf) spreadSize(event.target);
    else if (group?.dataset.prefix === "pieces") tellWhole(event.target);
    if (group?.dataset.prefix === "roles") tellLines();
    else if (group) tellLine(event.target.closest("[data-row]") ?? group);
  });
  form.addEventListener("change", (event) => {
    // the blanks of all pieces with this size are answered anew
    if (event.target.dataset.sizeOf)
      for (const id of event.target.dataset.sizeOf.split(" "))
        document.getElementById(id)?.dispatchEvent(new Event("change", { bubbles: true }));
    const row = event.target.closest("[data-row]");
    if (!row) return;
    if (event.target.name?.endsWith("-measure")) offerBead(row);
    showNeeded(row, row.closest("[data-rows]").dataset.prefix);
    tellLine(row);
  });
  form.addEventListener("htmx:afterSwap", (event) => {
    const row = event.target.closest?.("[data-row]");
    if (row) tellLine(row);
  });
  form.addEventListener("rows:changed", (event) => {
    if (event.target.dataset.prefix === "roles") refreshRoles();
    if (event.target.dataset.prefix === "choices") refreshChoices();
    showAllNeeded();
    if (event.target.dataset.prefix === "pieces") askForSizes();
    tellLines();
  });
  // The section that was open before saving is open again.
  const openAgain = () => {
    const wanted = location.hash.slice(1);
    const section = wanted && form.querySelector(`details[data-section="${CSS.escape(wanted)}"]`);
    if (section) section.open = true;
  };

  document.addEventListener("DOMContentLoaded", () => {
    dropSpareRows();
    refreshRoles();
    refreshChoices();
    showAllNeeded();
    tellLines();
    openAgain();
    for (const block of form.querySelectorAll("[data-whole-sizes]")) block.hidden = false;
    form.querySelector("[data-recipe-keys]").hidden = false;
    for (const button of form.querySelectorAll("[data-show-sizes]")) button.hidden = true;
  });
})();
