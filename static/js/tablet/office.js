// What is asked of the office in the name of whoever is signed in.

import { NoAnswer, ask, tell } from "./door.js";

/** The answer to a tablet that the office does not know (RFC 6585, 428: something must come first). */
const NOT_REGISTERED = 428;

/**
 * @param {import("./identity.js").Identity} identity @param {number} days
 * @returns {Promise<?object>} the rounds; null when nobody is signed in @throws {NoAnswer}
 */
export async function fetchRounds(identity, days) {
  const me = await identity.me();
  if (!me) {
    await identity.keep({ sessionEnded: true });
    return null;
  }
  if (identity.known.sessionEnded) await identity.keep({ sessionEnded: false });
  const rounds = () => ask(`pack?days=${days}&device=${identity.known.device}`, { withSession: true });
  let { status, data } = await rounds();
  // The office was put back to a day before this tablet was made known there: it says again who it is.
  if (status === NOT_REGISTERED && identity.known.name && (await identity.register(identity.known.name))) {
    ({ status, data } = await rounds());
  }
  if (status !== 200 || !Array.isArray(data.visits)) throw new NoAnswer(data.sentence ?? "The rounds could not be fetched.");
  return data;
}

/** Lets the office keep what the ready check found. @param {import("./ready.js").Check[]} checks */
export async function reportReady(identity, checks) {
  const me = await identity.me();
  if (!me) return;
  const words = { headers: { "X-CSRFToken": me.csrf }, withSession: true };
  await tell("ready", { device: identity.known.device, checks }, words);
}

/**
 * Tells an owner that somebody has set out. It is asked now or not at all: told an hour later it would be untrue.
 * @returns {Promise<{isTold: boolean, sentence: string}>} what the office says about it @throws {NoAnswer}
 */
export async function sayOnTheWay(identity, visit) {
  const me = await identity.me();
  if (!me) {
    await identity.keep({ sessionEnded: true });
    return { isTold: false, sentence: "Sign in to tell owners that you are on your way." };
  }
  const words = { headers: { "X-CSRFToken": me.csrf }, withSession: true };
  const { status, data } = await tell(`visits/${visit}/on-the-way`, {}, words);
  if (typeof data.sentence !== "string") throw new NoAnswer("The office did not answer.");
  return { isTold: status === 200, sentence: data.sentence };
}

/**
 * Ends the session and forgets who was signed in. Only the office can end it: where it cannot be reached, the next who
 * opens this page with signal would be signed in as somebody else.
 * @throws {NoAnswer}
 */
export async function endSession(identity) {
  const me = await identity.me();
  if (me) {
    const body = new URLSearchParams({ csrfmiddlewaretoken: me.csrf });
    await fetch("/sign-out/", { method: "POST", body, credentials: "same-origin", redirect: "manual" }).catch(() => {});
    if (await identity.me()) throw new NoAnswer("The office did not end the sign-in. Try again.");
  }
  await identity.keep({ person: null });
}
