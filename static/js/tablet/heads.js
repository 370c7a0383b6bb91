// Which answers stand. No clock decides: an event says which ones it replaces, and what nobody replaced stands.

/**
 * @typedef {{id: string, visit: string, field: string, kind: string, value: *, bases: string[]}} TabletEvent
 */

/**
 * The heads of every field: events that no other event of the same field names in its `bases`, in the order of their ids.
 * The order in which events arrive, and how often, changes nothing.
 * @param {Iterable<TabletEvent>} events of one visit
 * @returns {Map<string, TabletEvent[]>} by field; one head is the answer, two that differ are a conflict
 */
export function headsOf(events) {
  const known = new Map();
  for (const event of events) known.set(event.id, event);
  const replaced = new Set();
  for (const { id, field, bases } of known.values()) {
    for (const base of bases) if (base !== id && known.get(base)?.field === field) replaced.add(base);
  }
  const heads = new Map();
  for (const id of [...known.keys()].sort()) {
    if (replaced.has(id)) continue;
    const event = known.get(id);
    if (!heads.has(event.field)) heads.set(event.field, []);
    heads.get(event.field).push(event);
  }
  return heads;
}

/** The same content, whatever the order of an object's names. */
function isSame(one, other) {
  if (one === null || other === null || typeof one !== "object" || typeof other !== "object") return one === other;
  const names = Object.keys(one);
  return names.length === Object.keys(other).length && names.every((name) => name in other && isSame(one[name], other[name]));
}

/**
 * @param {Map<string, TabletEvent[]>} heads
 * @returns {string[]} fields with more than one answer; two that say the very same are no conflict
 */
export function conflictsIn(heads) {
  const differ = ([first, ...others]) => others.some((one) => !isSame(one.value, first.value));
  return [...heads].filter(([, standing]) => differ(standing)).map(([field]) => field);
}
