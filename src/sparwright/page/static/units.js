// Lengths, forces and what else has a unit, as they are shown: in metric units, or in inches and pounds by the server's table.

let table = {}; // metric unit: [its size in the inch unit, that unit's sign, least decimals]; empty for metric
let shown = "mm";

/** Take over the units of a state. */
export function showIn(units) {
  [table, shown] = [units.table, units.shown];
}

/** Which units are shown, "mm" or "inch". */
export const unitsShown = () => shown;

/** The sign that a metric unit is shown with. */
export const sign = (unit) => table[unit]?.[1] ?? unit;

/** A value in a metric unit as the number that is shown. */
export const outward = (value, unit = "mm") => value * (table[unit]?.[0] ?? 1);

/** A number shown as the value in its metric unit. */
export const inward = (value, unit = "mm") => value / (table[unit]?.[0] ?? 1);

/** Decimals for a figure that has so many in its metric unit: never coarser than there. */
export function places(decimals, unit = "mm") {
  if (!table[unit]) return decimals;
  const [factor, , least] = table[unit];
  return Math.max(Math.ceil(decimals - Math.log10(factor)), least, 0);
}

/** A value in a metric unit as text without its unit. */
export const figure = (value, decimals, unit = "mm") => outward(value, unit).toFixed(places(decimals, unit));

/** The same with its unit. */
export const size = (value, decimals, unit = "mm") => `${figure(value, decimals, unit)} ${sign(unit)}`;

/** The same, as short as it can be said: 3 mm, 0.118 in. */
export const short = (value, decimals, unit = "mm") => `${Number(figure(value, decimals, unit))} ${sign(unit)}`;

/** What an arrow key moves by, in mm: a round step of the units shown. */
export const keyStep = () => (shown === "inch" ? 1.27 : 1);
