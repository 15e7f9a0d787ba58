// Small parts of the page at the table: elements, amounts, and what a kept sale is called.

export const element = (tag, options = {}, ...inside) => {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(options)) {
    if (name === "on") for (const [event, work] of Object.entries(value)) made.addEventListener(event, work);
    else if (name === "data") Object.assign(made.dataset, value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...inside.filter((each) => each !== undefined && each !== ""));
  return made;
};

export const moneyOf = (day) => {
  const format = new Intl.NumberFormat(day.locale, {
    style: "currency",
    currency: day.currency,
    minimumFractionDigits: day.digits,
    maximumFractionDigits: day.digits,
  });
  return (minor) => format.format(minor / 10 ** day.digits).replace("-", "\u2212");
};

// "1.5", "1,5" and "2" as cents; NaN for anything else
export const minorOf = (typed, digits) => {
  const found = /^(\d{1,9})(?:[.,](\d+))?$/.exec(typed.trim());
  if (!found || (found[2] ?? "").length > digits) return Number.NaN;
  return Number(found[1] + (found[2] ?? "").padEnd(digits, "0"));
};

export const timeOf = (at) =>
  new Date(at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });

const WORDS = {
  refund: "Refund",
  swap: "Swap",
  given: "Given away",
  broken: "Broken",
  order: "Order",
  sold_out: "Sold out",
  undo: "Undone",
};

export const countOf = (items) => Object.values(items ?? {}).reduce((sum, count) => sum + count, 0);

export const namesOf = (items, names) =>
  Object.entries(items ?? {})
    .map(([key, count]) => (count > 1 ? `${count} × ${names[key] ?? "item"}` : (names[key] ?? "item")))
    .join(", ");

export const saleText = (sale, names) => {
  const parts = [];
  if (WORDS[sale.kind]) parts.push(WORDS[sale.kind]);
  const over = namesOf(sale.items, names);
  const back = namesOf(sale.back, names);
  if (over) parts.push(over);
  if (back) parts.push(`back: ${back}`);
  if (sale.customer) parts.push(sale.customer);
  if (sale.note) parts.push(sale.note);
  return parts.join(" · ");
};

export const wayText = (sale) =>
  sale.way === "cash" ? "cash" : sale.way === "card" ? "card" : "";
