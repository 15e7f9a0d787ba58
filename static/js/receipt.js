// A receipt while it is typed: fills in what packs cost, and adds up what was paid.
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  const form = document.querySelector("form[data-receipt]");
  if (!form) return;
  const prices = new Map(
    [...form.querySelectorAll("#offers option[data-price]")].flatMap((option) =>
      // the material's name alone means its only pack
      [option.value, option.dataset.alone]
        .filter(Boolean)
        .map((name) => [name.toLowerCase(), Number(option.dataset.price)]),
    ),
  );
  const total = form.querySelector("[data-receipt-sum]");
  const number = (field) => {
    const text = field?.value.trim().replace(",", ".") ?? "";
    return /^\d+(\.\d+)?$/.test(text) ? Number(text) : null;
  };
  const part = (row, name) => row.querySelector(`[name$="-${name}"]`);
  // Decimals as she types them: the same mark wherever one is needed.
  const written = (value) => value.toFixed(2);

  // What each name cost last at a supplier, and the pack that came last from there.
  const lasts = new Map();
  const lastPack = new Map();
  for (const option of form.querySelectorAll("#offers option[data-last]"))
    for (const words of option.dataset.last.split(" ")) {
      const [supplier, price, isLast] = words.split(":");
      lasts.set(`${supplier} ${option.value.toLowerCase()}`, Number(price));
      if (isLast === "1")
        lastPack.set(`${supplier} ${option.dataset.material.toLowerCase()}`, option.value);
    }
  const supplier = () => form.elements.supplier?.value ?? "";
  const named = (row) => part(row, "what").value.trim().toLowerCase();

  const fillPack = (row) => {
    const pack = lastPack.get(`${supplier()} ${named(row)}`);
    if (pack !== undefined && !prices.has(named(row))) part(row, "what").value = pack;
  };

  const fillAmount = (row) => {
    const amount = part(row, "amount");
    const price = lasts.get(`${supplier()} ${named(row)}`) ?? prices.get(named(row));
    const packs = number(part(row, "bought"));
    if (price === undefined || packs === null) return;
    // only what this script wrote itself is written over
    if (amount.value === "" || amount.dataset.filled === amount.value) {
      amount.value = amount.dataset.filled = written(price * packs);
    }
  };

  const addUp = () => {
    let sum = 0;
    for (const row of form.querySelectorAll("[data-row]"))
      if (!row.hidden && !part(row, "DELETE")?.checked) sum += number(part(row, "amount")) ?? 0;
    sum += number(form.elements.postage) ?? 0;
    sum += number(form.elements.tax) ?? 0;
    sum -= number(form.elements.discount) ?? 0;
    const wanted = number(form.elements.total);
    const rest = wanted === null ? 0 : Math.round((wanted - sum) * 100) / 100;
    const said = rest ? `, ${written(Math.abs(rest))} ${rest > 0 ? "missing" : "too much"}` : "";
    total.value = `Total ${written(sum)} ${total.dataset.currency}${said}`;
  };

  form.addEventListener("input", (event) => {
    const row = event.target.closest("[data-row]");
    if (row && /-(what|bought)$/.test(event.target.name)) fillAmount(row);
    addUp();
  });
  form.addEventListener("change", (event) => {
    const row = event.target.closest("[data-row]");
    if (!row || !/-what$/.test(event.target.name)) return;
    fillPack(row);
    fillAmount(row);
    addUp();
  });
  form.addEventListener("rows:changed", addUp);
  addUp();
});
