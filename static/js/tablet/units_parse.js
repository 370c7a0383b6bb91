// Reads what a person typed into a field: the same sentences and values as `parse` of contractor/core/units.py.

import { UNITS, fixed, fromSi, toSi, withSymbol } from "./units.js";

const QUANTITY_WORDS = {
  length: "a length",
  flow: "a flow",
  voltage: "a voltage",
  current: "a current",
  temperature: "a temperature",
  time: "a time",
  count: "a whole number",
  capacity: "a battery capacity",
  volume: "a volume",
  pressure: "a pressure",
  area: "an area",
  slope: "a slope",
  share: "a percentage",
  specific_gravity: "a specific gravity",
};
/** Only these can be below zero. */
export const SIGNED = ["temperature", "voltage", "current", "slope"];
const ABSOLUTE_ZERO_C = -273.15;
const MOST_CHARACTERS = 40;

/** What was typed is no measurement of the kind that was asked for; the message says how to type it. */
export class Unreadable extends Error {}

const FRACTIONS = { "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8" };

function numberPattern(place) {
  return (
    `(?<whole${place}>\\d+)[ -](?<top${place}>\\d+)/(?<under${place}>\\d+)` +
    `|(?<alone${place}>\\d+)/(?<below${place}>\\d+)` +
    `|(?<plain${place}>\\d+(?:[.,]\\d+)*|[.,]\\d+)`
  );
}

const ONE = new RegExp(`^(?<sign>-?)\\s*(?:${numberPattern(1)})\\s*(?<unit1>[^\\d\\s].*)?$`);
const TWO = new RegExp(
  `^(?<sign>-?)\\s*(?:${numberPattern(1)})\\s*(?<unit1>[^\\d\\s]+)[\\s-]*` +
    `(?:${numberPattern(2)})\\s*(?<unit2>[^\\d\\s].*)$`,
);

function cleaned(text) {
  let clean = text.replaceAll("−", "-").replaceAll("–", "-").split(/\s+/).filter(Boolean).join(" ");
  for (const [sign, plain] of Object.entries(FRACTIONS)) {
    clean = clean.replace(new RegExp(`(?<=\\d) ?${sign}`, "g"), ` ${plain}`).replaceAll(sign, plain);
  }
  return clean;
}

function howTo(unit) {
  const examples = { count: "12", specific_gravity: "1.265", temperature: withSymbol("50", unit) };
  const example = examples[unit.quantity] || withSymbol("12.5", unit);
  const words = ["count", "specific_gravity"].includes(unit.quantity) ? "" : ` in ${unit.word}`;
  return `type a number${words}, such as ${example}.`;
}

function decimal(number, text, unit) {
  const thousands = /^[1-9]\d{0,2}(,\d{3})+(\.\d+)?$/.test(number);
  const commas = number.split(",").length - 1;
  if (thousands && (commas > 1 || number.includes(".") || unit.quantity === "count")) {
    return Number(number.replaceAll(",", ""));
  }
  if (thousands) {
    const [plain, point] = [number.replaceAll(",", ""), number.replaceAll(",", ".")];
    throw new Unreadable(`“${text.trim()}” can be read two ways: type ${plain} or ${point}.`);
  }
  const pointed = number.replaceAll(",", ".");
  if (pointed.split(".").length > 2) {
    throw new Unreadable(`“${text.trim()}” has more than one decimal point: ${howTo(unit)}`);
  }
  return Number(pointed);
}

function valueOf(groups, place, text, unit) {
  let [whole, top, under] = ["whole", "top", "under"].map((name) => groups[name + place]);
  if (groups[`alone${place}`]) [whole, top, under] = ["0", groups[`alone${place}`], groups[`below${place}`]];
  if (whole === undefined) return decimal(groups[`plain${place}`], text, unit);
  if (Number(under) === 0) throw new Unreadable(`“${text.trim()}” divides by zero: ${howTo(unit)}`);
  return Number(whole) + Number(top) / Number(under);
}

function namesOf(unit) {
  return [unit.code, unit.symbol, unit.word, ...unit.also].filter(Boolean).map((name) => name.toLowerCase());
}

/** The unit that someone wrote behind a number; a unit of another quantity is refused by name. */
function unitNamed(name, asked) {
  const wanted = name.trim().replace(/\.+$/, "").toLowerCase();
  const matches = Object.values(UNITS).filter((unit) => namesOf(unit).includes(wanted));
  const same = matches.find((unit) => unit.quantity === asked.quantity);
  if (same) return same;
  if (matches.length) {
    const [found, wants] = [QUANTITY_WORDS[matches[0].quantity], QUANTITY_WORDS[asked.quantity]];
    throw new Unreadable(`“${name.trim()}” stands for ${found}; here ${wants} is asked for: ${howTo(asked)}`);
  }
  return null;
}

function amounts(clean, text, asked) {
  const one = ONE.exec(clean)?.groups;
  if (one) {
    const found = one.unit1 ? unitNamed(one.unit1, asked) : asked;
    if (found) {
      const value = valueOf(one, 1, text, found);
      return [[one.sign ? -value : value, found]];
    }
  }
  const two = TWO.exec(clean)?.groups;
  if (two && !two.sign) {
    const [large, small] = [unitNamed(two.unit1, asked), unitNamed(two.unit2, asked)];
    if (large && small && large.factor > small.factor && asked.quantity !== "temperature") {
      return [
        [valueOf(two, 1, text, large), large],
        [valueOf(two, 2, text, small), small],
      ];
    }
  }
  throw new Unreadable(`“${text.trim()}” cannot be read as ${QUANTITY_WORDS[asked.quantity]}: ${howTo(asked)}`);
}

function believable(typed, asked) {
  if (typed.si < 0 && !SIGNED.includes(asked.quantity)) {
    const words = QUANTITY_WORDS[asked.quantity];
    throw new Unreadable(`${words[0].toUpperCase()}${words.slice(1)} cannot be less than nothing: ${howTo(asked)}`);
  }
  if (asked.quantity === "temperature" && typed.si < ABSOLUTE_ZERO_C) {
    throw new Unreadable(`No temperature is as low as “${typed.text.trim()}”: ${howTo(asked)}`);
  }
  if (asked.quantity === "count" && !Number.isInteger(typed.value)) {
    throw new Unreadable(`“${typed.text.trim()}” is not a whole number: type how many, such as 12.`);
  }
  return typed;
}

/** {text, value, unit, si} of what was typed into a field that is labelled with `code`; throws Unreadable. */
export function parse(text, code) {
  const asked = UNITS[code];
  const clean = cleaned(text);
  if (!clean) throw new Unreadable(`Nothing was typed: ${howTo(asked)}`);
  if ([...clean].length > MOST_CHARACTERS) {
    throw new Unreadable(`This is too long for ${QUANTITY_WORDS[asked.quantity]}: ${howTo(asked)}`);
  }
  const stopwatch = /^(\d{1,3}):([0-5]\d(?:\.\d+)?)$/.exec(clean);
  if (stopwatch && ["s", "min"].includes(code)) {
    const si = 60 * Number(stopwatch[1]) + Number(stopwatch[2]);
    return { text, value: fromSi(si, code), unit: code, si };
  }
  const found = amounts(clean, text, asked);
  if (found.length === 1) {
    const [[value, unit]] = found;
    return believable({ text, value, unit: unit.code, si: toSi(value, unit.code) }, asked);
  }
  const [[large, largeUnit], [small, smallUnit]] = found;
  const si = toSi(large, largeUnit.code) + toSi(small, smallUnit.code);
  const value = Number(fixed(fromSi(si, smallUnit.code), 9));
  return believable({ text, value, unit: smallUnit.code, si }, asked);
}
