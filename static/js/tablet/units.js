// Units at the edge of the tablet: the same table, factors and figures as contractor/core/units.py.
// tests/offline/test_vectors.py holds both to the same numbers, so a change there fails here.

function unit(code, quantity, factor, digits, word, more = {}) {
  return { code, quantity, factor, offset: 0, digits, word, symbol: code, also: [], fixed: false, ...more };
}

const LIST = [
  unit("in", "length", 0.0254, 2, "inches", { also: ["inch", "inches", '"', "″", "''"] }),
  unit("ft", "length", 0.3048, 1, "feet", { also: ["foot", "feet", "'", "′"] }),
  unit("mm", "length", 0.001, 1, "millimetres"),
  unit("cm", "length", 0.01, 1, "centimetres"),
  unit("m", "length", 1, 2, "metres"),
  unit("gal/h", "flow", 1.0515032733333334e-6, 0, "gallons an hour", { also: ["gph", "gal/hr"] }),
  unit("gal/min", "flow", 6.30901964e-5, 1, "gallons a minute", { also: ["gpm"] }),
  unit("L/min", "flow", 1.6666666666666667e-5, 1, "litres a minute", { also: ["lpm"] }),
  unit("L/s", "flow", 0.001, 2, "litres a second"),
  unit("m3/s", "flow", 1, 6, "cubic metres a second", { symbol: "m³/s" }),
  unit("V", "voltage", 1, 2, "volts", { also: ["volt", "volts"] }),
  unit("A", "current", 1, 1, "amperes", { also: ["amp", "amps"] }),
  unit("degF", "temperature", 0.5555555555555556, 0, "degrees Fahrenheit", {
    offset: -17.77777777777778,
    symbol: "°F",
    also: ["f", "deg f"],
  }),
  unit("degC", "temperature", 1, 1, "degrees Celsius", { symbol: "°C", also: ["c", "deg c"] }),
  unit("s", "time", 1, 0, "seconds", { also: ["sec", "second", "seconds"] }),
  unit("min", "time", 60, 1, "minutes", { also: ["minute", "minutes"] }),
  unit("h", "time", 3600, 1, "hours", { also: ["hr", "hrs", "hour", "hours"] }),
  unit("count", "count", 1, 0, "whole number", { symbol: "", also: ["times", "x"] }),
  unit("Ah", "capacity", 1, 1, "ampere-hours"),
  unit("gal", "volume", 0.003785411784, 1, "gallons", { also: ["gallon", "gallons"] }),
  unit("L", "volume", 0.001, 1, "litres", { also: ["liter", "liters", "litre", "litres"] }),
  unit("m3", "volume", 1, 3, "cubic metres", { symbol: "m³" }),
  unit("psi", "pressure", 6894.757293168362, 1, "pounds per square inch"),
  unit("kPa", "pressure", 1000, 1, "kilopascals"),
  unit("ft2", "area", 0.09290304, 1, "square feet", { symbol: "ft²", also: ["sq ft"] }),
  unit("m2", "area", 1, 2, "square metres", { symbol: "m²" }),
  unit("in/ft", "slope", 0.08333333333333333, 3, "inches per foot"),
  unit("mm/m", "slope", 0.001, 0, "millimetres per metre"),
  unit("%", "share", 0.01, 0, "percent", { also: ["percent"] }),
  unit("SG", "specific_gravity", 1, 3, "specific gravity", { symbol: "", fixed: true }),
];

export const UNITS = Object.fromEntries(LIST.map((one) => [one.code, one]));

const DISPLAY_UNITS = {
  length: ["in", "mm"],
  flow: ["gal/min", "L/min"],
  voltage: ["V", "V"],
  current: ["A", "A"],
  temperature: ["degF", "degC"],
  time: ["s", "s"],
  count: ["count", "count"],
  capacity: ["Ah", "Ah"],
  volume: ["gal", "L"],
  pressure: ["psi", "kPa"],
  area: ["ft2", "m2"],
  slope: ["in/ft", "mm/m"],
  share: ["%", "%"],
  specific_gravity: ["SG", "SG"],
};

/** The unit code in which a company on `system` ("us" or "metric") reads a quantity. */
export function displayUnit(quantity, system) {
  return DISPLAY_UNITS[quantity][system === "metric" ? 1 : 0];
}

/** A value in `code` as a value in its quantity's base unit. */
export function toSi(value, code) {
  return value * UNITS[code].factor + UNITS[code].offset;
}

/** A value in the base unit as a value in `code`. */
export function fromSi(valueSi, code) {
  return (valueSi - UNITS[code].offset) / UNITS[code].factor;
}

/** A number with so many decimals; a value exactly between two goes to the even one, as Python writes it. */
export function fixed(value, digits) {
  const size = Math.abs(value);
  let text = size.toFixed(digits);
  const exact = size.toFixed(100);
  const cut = exact.indexOf(".") + 1 + digits;
  const isTie = exact[cut] === "5" && /^0*$/.test(exact.slice(cut + 1));
  if (isTie) {
    // toFixed goes up; the digits before the cut are the lower neighbour.
    const lower = digits ? exact.slice(0, cut) : exact.slice(0, cut - 1);
    if (Number(lower.at(-1)) % 2 === 0) text = lower;
  }
  return value < 0 || Object.is(value, -0) ? `-${text}` : text;
}

function grouped(number) {
  const [whole, ...rest] = number.split(".");
  return [whole.replace(/\B(?=(\d{3})+(?!\d))/g, ","), ...rest].join(".");
}

/** A value in the base unit as people read it in `code`: "12.6 V", "40 °F", "114,256". */
export function shown(valueSi, code, moreDigits = 0) {
  const known = UNITS[code];
  const value = fromSi(valueSi, code);
  const size = Math.abs(value);
  let digits = known.digits + moreDigits;
  // Too small for the gauge's decimals: one significant digit rather than 0.
  if (known.quantity !== "temperature" && size > 1e-9 && size < 0.5 * 10 ** -digits) {
    digits = -Math.floor(Math.log10(size));
  }
  let number = fixed(value, digits);
  if (known.quantity === "count") number = grouped(number);
  if (number.includes(".") && !known.fixed) number = number.replace(/0+$/, "").replace(/\.$/, "");
  if (!/[^-0.]/.test(number)) number = number.replace(/^-+/, "");
  return withSymbol(number, known);
}

/** A number with its unit behind it, as the trade writes it. */
export function withSymbol(number, known) {
  if (!known.symbol) return number;
  return known.symbol === "%" ? `${number}%` : `${number} ${known.symbol}`;
}
