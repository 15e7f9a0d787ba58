// What a basket at the table comes to; the same sum as pricing/calc/fairs/basket.py, in cents.
// A test lays random baskets of both beside each other.

const MOST_STEPS = 20000;

export const sumOf = (items, prices) =>
  Object.entries(items).reduce((sum, [key, count]) => sum + count * prices[key], 0);

const askedFor = (bundle) => Math.max(bundle.price, bundle.lowest);

const byCode = (a, b) => (a < b ? -1 : a > b ? 1 : 0);

const helpful = (bundles, prices, rest) =>
  bundles
    .filter((bundle) => {
      const held = Object.entries(bundle.items);
      return (
        held.length && held.every(([key, each]) => key in prices && each >= 1 && each <= (rest[key] ?? 0))
      );
    })
    .map((bundle) => ({ bundle, saving: sumOf(bundle.items, prices) - askedFor(bundle) }))
    .filter(({ saving }) => saving > 0)
    .sort((a, b) => b.saving - a.saving || byCode(a.bundle.key, b.bundle.key));

export const basketOf = (items, prices, bundles) => {
  const rest = { ...items };
  const found = helpful(bundles, prices, rest);
  const taken = found.map(() => 0);
  let best = {};
  let most = 0;
  let steps = 0;

  const roomFor = (bundle) =>
    Math.min(...Object.entries(bundle.items).map(([key, each]) => Math.floor(rest[key] / each)));
  const take = (bundle, count) => {
    for (const [key, each] of Object.entries(bundle.items)) rest[key] -= each * count;
  };
  const look = (place, saved) => {
    steps += 1;
    if (saved > most) {
      most = saved;
      best = {};
      found.forEach(({ bundle }, index) => {
        if (taken[index]) best[bundle.key] = taken[index];
      });
    }
    if (steps >= MOST_STEPS || place === found.length) return;
    const hoped = found.slice(place).reduce((sum, each) => sum + each.saving * roomFor(each.bundle), 0);
    if (saved + hoped <= most) return;
    const { bundle, saving } = found[place];
    for (let count = roomFor(bundle); count >= 0; count -= 1) {
      take(bundle, count);
      taken[place] = count;
      look(place + 1, saved + saving * count);
      take(bundle, -count);
    }
    taken[place] = 0;
  };
  look(0, 0);

  const full = sumOf(items, prices);
  return { full, bundles: best, amount: full - most };
};
