// The few things that are not events but must outlive the loss of one store: who this tablet is, and its rounds.

/** @param {import("./save.js").Stores} stores @param {string} name without a hyphen @param {object} value */
export async function keepBoth(stores, name, value) {
  const dated = { at: Date.now(), value };
  const copies = [stores.database?.keep(name, dated), stores.journal?.keep(name, dated)].filter(Boolean);
  const written = await Promise.allSettled(copies);
  if (!written.some((copy) => copy.status === "fulfilled")) throw new Error(`Nothing could be kept of ${name}.`);
}

/** @returns {Promise<?object>} the younger of the two copies, written again where it was missing; null for none */
export async function keptIn(stores, name) {
  const places = [stores.database, stores.journal].filter(Boolean);
  const found = (await Promise.allSettled(places.map((place) => place.kept(name)))).map((copy) => copy.value ?? null);
  const [youngest] = found.filter(Boolean).sort((one, other) => other.at - one.at);
  if (!youngest) return null;
  const stale = places.filter((_, index) => found[index]?.at !== youngest.at);
  await Promise.allSettled(stale.map((place) => place.keep(name, youngest)));
  return youngest.value;
}
