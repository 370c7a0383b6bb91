// The line that is always in sight: what is only on this tablet, whether it is safe, and what somebody should do.

const OPFS_MISSING = "This tablet keeps one copy of your work, not two. Save a backup file after each stop.";
const NOTHING_KEPT = "This tablet can't keep anything. Leave private browsing or make room, and open this page again before you start.";
const FAULTY = "The last save did not reach both copies. Make room on this tablet, and save a backup file.";

/**
 * @returns {{unsent: number, unsentPhotos: number, lastSentAt: ?string, storage: "safe"|"one copy"|"not safe",
 *   online: boolean, needsSignIn: boolean, key: ?{expires: string}, message: string}}
 */
export function statusOf({ memory, stores, known, key, findings, faulty, message }) {
  const copies = [stores.database, stores.journal].filter(Boolean).length;
  const gone = [...memory.photos.values()].filter((photo) => photo.state === "gone").length;
  const storage = copies === 0 ? "not safe" : copies === 1 || faulty ? "one copy" : "safe";
  const sentences = [
    copies === 0 && NOTHING_KEPT,
    copies === 1 && OPFS_MISSING,
    copies === 2 && faulty && FAULTY,
    findings.loss && `The browser lost one copy of the work on this tablet; ${findings.restored} items were brought back from the other.`,
    findings.damaged > 0 && `${findings.damaged} entries of an earlier journal can't be read. Tell the office.`,
    gone > 0 && `${gone} photos are neither on this tablet nor at the office any more. Tell the office.`,
    known.needsSignIn && "Sign in to send your work and to fetch new rounds. Nothing is lost until then.",
    known.sessionEnded && !known.needsSignIn && "Sign in to fetch new rounds. Your work is still being sent.",
    message,
  ];
  return {
    unsent: memory.waitingEvents().length,
    unsentPhotos: memory.waitingPhotos().length,
    lastSentAt: known.lastSentAt,
    storage,
    online: navigator.onLine,
    needsSignIn: Boolean(known.needsSignIn || known.sessionEnded),
    key: key && { expires: key.expires },
    message: sentences.filter(Boolean).join(" "),
  };
}
