// Keeps the recipe editor in step with what is typed: names of materials' uses and of choices
// in every list, entries that only some rows need, Alt + Enter to the next row.
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

  const isBlank = (row) =>
    [...row.querySelectorAll("td:not(.row-tools) > input, td > select[name$='-role']")].every(
      (field) => field.type === "checkbox" || field.value === field.defaultValue || !field.value,
    ) && !row.querySelector("td > input[type='text']")?.value;

  // With a button for one more row, one spare row is enough.
  const dropSpareRows = () => {
    for (const group of form.querySelectorAll("[data-rows]")) {
      const rows = rowsOf(group.dataset.prefix);
      while (rows.length > 1 && isBlank(rows.at(-1)) && isBlank(rows.at(-2))) rows.pop().remove();
    }
  };

  const firstField = (row) => row.querySelector("td > input:not([type='hidden']), td > select");
  const nextRow = (row) => {
    const group = row.closest("[data-rows]");
    const rows = rowsOf(group.dataset.prefix);
    const next = rows[rows.indexOf(row) + 1];
    if (next) firstField(next).focus();
    else group.querySelector("[data-row-add]").click();
  };

  form.addEventListener("keydown", (event) => {
    const row = event.target.closest("[data-row]");
    if (!row || event.key !== "Enter" || !event.altKey) return;
    event.preventDefault();
    nextRow(row);
  });
  form.addEventListener("input", (event) => {
    const group = event.target.closest("[data-rows]");
    if (group?.dataset.prefix === "roles") refreshRoles();
    if (group?.dataset.prefix === "choices") refreshChoices();
  });
  form.addEventListener("change", (event) => {
    const row = event.target.closest("[data-row]");
    if (!row) return;
    if (event.target.name?.endsWith("-measure")) offerBead(row);
    showNeeded(row, row.closest("[data-rows]").dataset.prefix);
  });
  form.addEventListener("rows:changed", (event) => {
    if (event.target.dataset.prefix === "roles") refreshRoles();
    if (event.target.dataset.prefix === "choices") refreshChoices();
    showAllNeeded();
    if (event.target.dataset.prefix === "pieces") askForSizes();
  });
  // A link to a section that is folded away opens it.
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']");
    const place = link && document.getElementById(link.hash.slice(1));
    if (place?.tagName === "DETAILS") place.open = true;
  });

  document.addEventListener("DOMContentLoaded", () => {
    dropSpareRows();
    refreshRoles();
    refreshChoices();
    showAllNeeded();
    form.querySelector("[data-recipe-keys]").hidden = false;
    for (const button of form.querySelectorAll("[data-show-sizes]")) button.hidden = true;
  });
})();
