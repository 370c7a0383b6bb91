// One number under gloved fingers: a large field, the gauge's unit beside it, a pad of our own while it is in use.
// The pad is for touch; a keyboard types into the same field.

import { afterTouch, h, say } from "../dom.js";
import { UNITS, fromSi, shown } from "../units.js";
import { capital } from "../words.js";
import { SIGNED, Unreadable, parse } from "../units_parse.js";

const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3"];
const isTouch = () => matchMedia("(pointer: coarse)").matches;

/** `units` are codes, the first is that of the company. `typed(text)` is called at every change, `left()` at the end,
 *  `chosen(unit)` when another gauge is taken. */
export function numberField({ id, label, units, typed, left, chosen = () => {} }) {
  let unit = units[0];
  const help = `${id}-help`;
  const input = h("input", {
    class: "form-control",
    id,
    type: "text",
    inputmode: isTouch() ? "none" : "decimal",
    enterkeyhint: "done",
    autocomplete: "off",
    maxlength: "40",
    "aria-describedby": help,
    oninput: changed,
    onkeydown: (event) => event.key === "Enter" && (event.preventDefault(), leave()),
  });
  const also = h("p", { class: "also", id: help });
  const choices = units.map((code) =>
    h("button", { type: "button", class: "unit-button", "aria-pressed": "false", "data-unit": code, onclick: () => choose(code) }, UNITS[code].symbol || UNITS[code].word),
  );
  const symbol = UNITS[unit].symbol;
  const beside = units.length > 1 ? h("div", { class: "unit-choices", role: "group", "aria-label": `Unit of the gauge for ${label}` }, choices) : symbol && h("span", { class: "unit" }, symbol);
  // The keys are made when the field is first used: a page has a score of fields.
  const pad = h("div", { class: "pad", role: "group", "aria-label": "Number pad", hidden: true });
  const words = capital(units.length > 1 || !symbol ? label : `${label} in ${symbol}`);
  const element = h("div", { class: "number-field" }, h("label", { class: "field-label", for: id }, words), h("div", { class: "measure" }, input, beside), also, pad);
  element.addEventListener("focusin", (event) => {
    if (event.target !== input || input.disabled || !isTouch()) return;
    if (!pad.childElementCount) pad.append(...keys());
    pad.hidden = false;
    afterTouch(() => element.scrollIntoView({ block: "nearest" }));
  });
  element.addEventListener("focusout", (event) => {
    if (element.contains(event.relatedTarget)) return;
    afterTouch(() => {
      if (element.contains(document.activeElement)) return;
      pad.hidden = true;
      if (input.value.trim()) left();
    });
  });
  showUnit();

  function key(name, label_, act, more = "") {
    // The pad never takes the focus away from the field.
    return h("button", { type: "button", class: `pad-key ${more}`, tabindex: "-1", "aria-label": label_, onpointerdown: (event) => event.preventDefault(), onclick: act }, name);
  }

  function keys() {
    const put = (text) => () => {
      const [from, to] = [input.selectionStart ?? input.value.length, input.selectionEnd ?? input.value.length];
      input.setRangeText(text, from, to, "end");
      changed();
    };
    const erase = () => {
      const [from, to] = [input.selectionStart, input.selectionEnd];
      if (to > 0) input.setRangeText("", from === to ? from - 1 : from, to, "end");
      changed();
    };
    const sign = () => {
      input.value = input.value.startsWith("-") ? input.value.slice(1) : `-${input.value}`;
      changed();
    };
    const isSigned = SIGNED.includes(UNITS[unit].quantity);
    return [
      ...KEYS.map((digit) => key(digit, digit, put(digit))),
      isSigned ? key("±", "Plus or minus", sign) : key(":", "Colon, between minutes and seconds", put(":")),
      key("0", "0", put("0")),
      key(".", "Decimal point", put(".")),
      key("⌫", "Erase", erase, "is-wide"),
      key("Done", "Done", leave, "is-wide is-main"),
    ];
  }

  function changed() {
    input.removeAttribute("aria-invalid");
    showAlso();
    typed(input.value);
  }

  function leave() {
    pad.hidden = true;
    left();
  }

  function choose(code) {
    unit = code;
    showUnit();
    chosen(unit);
    changed();
    if (input.value.trim()) left();
  }

  function showUnit() {
    for (const choice of choices) choice.setAttribute("aria-pressed", String(choice.dataset.unit === unit));
    showAlso();
  }

  /** The same value on the other gauge, or why it cannot be read. */
  function showAlso(problem = "") {
    also.classList.toggle("is-wrong", Boolean(problem));
    say(also, problem || sameElsewhere());
  }

  function sameElsewhere() {
    if (!input.value.trim() || units.length < 2) return "";
    try {
      return `= ${shown(parse(input.value, unit).si, units.find((code) => code !== unit))}`;
    } catch {
      return "";
    }
  }

  /** {number, unit} with the number as a plain decimal; null when empty or unreadable, which is said at the field. */
  function read() {
    if (!input.value.trim()) return null;
    try {
      const found = parse(input.value, unit);
      const plain = /^-?\d+(\.\d+)?$/.test(input.value.trim()) ? input.value.trim() : String(Number(fromSi(found.si, unit).toPrecision(12)));
      return { number: plain, unit };
    } catch (problem) {
      if (!(problem instanceof Unreadable)) throw problem;
      input.setAttribute("aria-invalid", "true");
      showAlso(problem.message);
      return null;
    }
  }

  function set(number, code) {
    if (document.activeElement === input) return;
    input.value = number ?? "";
    if (code && units.includes(code) && code !== unit) {
      unit = code;
      chosen(unit);
    }
    showUnit();
  }
  return { element, input, read, set, text: () => input.value, unit: () => unit };
}
