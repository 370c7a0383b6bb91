// Which answers stand. No clock decides: an event says which ones it replaces, and what nobody replaced stands.

/**
 * @typedef {{id: string, visit: string, field: string, kind: string, value: *, bases: string[]}} TabletEvent
 */

/**
 * The heads of every field: events whose id is in nobody's `bases`, in the order of their ids. The order in which events
 * arrive, and how often, changes nothing.
 * @param {Iterable<TabletEvent>} events of one visit
 * @returns {Map<string, TabletEvent[]>} by field; one head is the answer, two are a conflict
 */
export function headsOf(events) {
  const known = new Map();
  for (const event of events) known.set(event.id, event);
  const replaced = new Set();
  for (const event of known.values()) for (const base of event.bases) replaced.add(base);
  const heads = new Map();
  for (const id of [...known.keys()].sort()) {
    if (replaced.has(id)) continue;
    const event = known.get(id);
    if (!heads.has(event.field)) heads.set(event.field, []);
    heads.get(event.field).push(event);
  }
  return heads;
}

/** @param {Map<string, TabletEvent[]>} heads @returns {string[]} fields with more than one answer */
export function conflictsIn(heads) {
  return [...heads].filter(([, standing]) => standing.length > 1).map(([field]) => field);
}
