// The end of a visit: what is missing with a link to each, a reason for what stays open, and the event that says what
// a finished check-up consists of.

import { announce, fill, goTo, h } from "./dom.js";
import { mark } from "./marks.js";
import { headIds, isSignatureStale } from "./sheet.js";
import { many } from "./words.js";

const SHOWN = 12;
const REASONS = ["Could not get to them", "Not safe today", "No water to test with", "Too little time left today"];

/** {element, bar, update(sheet)} of the sign page. */
export function finishPart(place) {
  const list = h("div", {});
  const said = h("p", { class: "also", role: "alert" });
  const because = h("input", { class: "form-control", id: "left-open", maxlength: "500", autocomplete: "off" });
  const chips = REASONS.map((words) => h("button", { type: "button", class: "btn", onclick: () => (because.value = words) }, words));
  const leave = h(
    "details",
    { class: "elsewhere" },
    h("summary", {}, "Finish without the open lines"),
    h("p", {}, "Each of them is written down as not possible, with this reason. The check-up counts, but the office and the owner see what was left out."),
    h("label", { class: "field-label", for: "left-open" }, "Why are they left open?"),
    h("div", { class: "chips" }, chips),
    because,
  );
  const button = h("button", { type: "button", class: "btn btn-primary", onclick: finish }, "Finish the check-up");
  const bar = h("div", { class: "bottom-bar" }, h("div", { class: "bottom-bar-inner" }, button));
  const element = h("section", { class: "step", "aria-labelledby": "head-finish" }, h("h2", { id: "head-finish" }, "Finish"), list, leave, said);

  function lacking(sheet) {
    const unanswered = sheet.missing.filter((line) => !line.verdict);
    const isExcused = Boolean(because.value.trim());
    const lines = sheet.missing.filter((line) => line.verdict || !isExcused).map((line) => [line.field, line.missing]);
    const wanted = sheet.conflicts.map((field) => [field, "Two answers stand side by side: keep one of them."]);
    const signing = [];
    if (!sheet.signature) signing.push(["sign", "Let the owner sign, type the name, or choose “nobody at home”."]);
    else if (isSignatureStale(sheet)) signing.push(["sign", "Something was changed after the owner signed: let them sign once more."]);
    return { lines, signing: [...wanted, ...signing], unanswered };
  }

  function link([target, sentence]) {
    if (target !== "sign") return h("li", {}, h("a", { href: `#/stop/${place.id}?line=${encodeURIComponent(target)}` }, sentence));
    const jump = (event) => {
      event.preventDefault();
      goTo(document.getElementById("sign"));
    };
    return h("li", {}, h("a", { href: `#/stop/${place.id}/sign`, onclick: jump }, sentence));
  }

  function update(sheet) {
    const { lines, signing, unanswered } = lacking(sheet);
    element.hidden = place.isClosed();
    bar.hidden = place.isClosed();
    leave.hidden = !unanswered.length;
    const all = [...signing, ...lines];
    if (!all.length) {
      fill(list, h("p", {}, mark("good", "nothing is missing")));
      return;
    }
    const rest = all.length > SHOWN ? h("p", {}, `And ${many(all.length - SHOWN, "line")} more.`) : null;
    fill(list, h("p", {}, h("strong", {}, `${many(all.length, "thing")} still to do:`)), h("ul", { class: "missing" }, all.slice(0, SHOWN).map(link)), rest);
  }

  async function finish() {
    await place.refresh();
    const sheet = place.sheet();
    const { lines, signing, unanswered } = lacking(sheet);
    const all = [...signing, ...lines];
    if (all.length) {
      const summary = h("div", { class: "error-summary", role: "alert", tabindex: "-1" }, h("h2", {}, `Not finished yet. ${many(all.length, "thing")} still to do:`), h("ul", {}, all.slice(0, SHOWN).map(link)), all.length > SHOWN ? h("p", {}, `And ${many(all.length - SHOWN, "line")} more.`) : null);
      fill(list, summary);
      summary.focus();
      summary.scrollIntoView({ block: "center" });
      return;
    }
    const photos = [...sheet.heads].filter(([field]) => field.startsWith("photo:")).map(([field, events]) => ({ id: field.slice(6), sha256: events.at(-1).value.sha256 }));
    const value = {
      heads: headIds(sheet, (event) => event.kind !== "finish"),
      photos,
      left_open: unanswered.map((line) => ({ field: line.field, because: because.value.trim() })),
    };
    if (!(await place.keep("finish", "finish", value, said))) return;
    announce("Finished on this tablet.");
    place.store.sendNow();
    location.hash = "#/";
  }
  return { element, bar, update };
}
