// The few things that are not events but must outlive the loss of one store: who this tablet is, and its rounds.

/** @param {import("./save.js").Stores} stores @param {string} name without a hyphen @param {object} value */
export async function keepBoth(stores, name, value) {
  const dated = { at: Date.now(), value };
  const copies = [stores.database?.keep(name, dated), stores.journal?.keep(name, dated)].filter(Boolean);
  const written = await Promise.allSettled(copies);
  if (!written.some((copy) => copy.status === "fulfilled")) throw new Error(`Nothing could be kept of ${name}.`);
}

/** @returns {Promise<?object>} the younger of the two copies; null where there is none */
export async function keptIn(stores, name) {
  const copies = [stores.database?.kept(name), stores.journal?.kept(name)].filter(Boolean);
  const found = (await Promise.allSettled(copies)).map((copy) => copy.value).filter(Boolean);
  return found.sort((one, other) => other.at - one.at)[0]?.value ?? null;
}
