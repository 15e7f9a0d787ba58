// What the page at the table knows: the basket, what this phone keeps, what the workshop told last.
import { basketOf, sumOf } from "./table-basket.js";
import { timeOf } from "./table-parts.js";

export const day = JSON.parse(document.getElementById("day").textContent);
export const names = Object.fromEntries(day.items.map((item) => [item.key, item.name]));
export const prices = Object.fromEntries(day.items.map((item) => [item.key, item.price]));

export const now = {
  items: {},
  back: {},
  discount: 0,
  reason: "",
  tapped: "",
  // of this day, in the order they were kept
  sales: [],
  told: day.state,
  phone: "",
  // how the last sending ended
  sending: "",
};

export const undone = () =>
  new Set(now.sales.filter((sale) => sale.kind === "undo").map((sale) => sale.of));

export const waiting = () => now.sales.filter((sale) => sale.state === "waiting").length;

const standing = () => {
  const gone = undone();
  return now.sales.filter((sale) => sale.kind !== "undo" && !gone.has(sale.uuid));
};

export const worked = () => {
  const basket = basketOf(now.items, prices, day.bundles);
  const off = Math.min(now.discount, basket.amount);
  return { ...basket, off, amount: basket.amount - sumOf(now.back, prices) - off };
};

const takes = (sale, key) => (sale.items?.[key] ?? 0) - (sale.spoiled ? 0 : (sale.back?.[key] ?? 0));

// What the workshop counted, less what it does not know yet; null where nobody counted.
export const leftOf = (key) => {
  const counted = now.told.left[key] ?? null;
  if (counted === null) return null;
  let left = counted;
  for (const sale of now.sales) {
    if (sale.state !== "waiting") continue;
    const meant = sale.kind === "undo" ? now.sales.find((each) => each.uuid === sale.of) : sale;
    if (meant) left += sale.kind === "undo" ? takes(meant, key) : -takes(meant, key);
  }
  return left;
};

export const soldOutAt = (key) => {
  const own = standing().find((sale) => sale.kind === "sold_out" && key in sale.items);
  return own ? timeOf(own.at) : (now.told.sold_out[key] ?? "");
};

export const totals = () => {
  const sum = { cash: 0, card: 0, count: 0, deposits: 0 };
  for (const sale of standing()) {
    // a deposit is not takings
    if (sale.kind === "order") sum.deposits += sale.amount;
    else if (sale.way !== "none") sum[sale.way] += sale.amount;
    if (sale.kind === "sale") sum.count += 1;
  }
  // what this phone sold is counted above, sent or not
  for (const [name, other] of Object.entries(now.told.phones)) {
    if (name === now.phone) continue;
    for (const part of Object.keys(sum)) sum[part] += other[part] ?? 0;
  }
  return sum;
};
