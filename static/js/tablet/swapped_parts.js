// Parts swapped at this visit: the old one's lines go, the new one gets its own, in the same place of the walk.

/** {parts, lines} of a visit after the swaps done in it: [{id, value}] in the order of their making. `models` by kind. */
export function placeSwaps(visit, items, models, swaps) {
  let parts = visit.parts.map((part) => ({ ...part, id: String(part.id) }));
  let lines = (visit.lines || []).map((line) => {
    const component = String(line.component || 0);
    return { ...line, component, field: `answer:${line.item}:${component}`, item: items[line.item] };
  });
  for (const { id, value } of swaps) {
    const old = parts.find((part) => part.id === String(value.component));
    // The office's pack knows the new part already.
    if (!old) continue;
    const fresh = newPart(models, old, id, value);
    parts = parts.map((part) => (part === old ? fresh : part));
    lines = newLines(lines, items, old, fresh);
    if (old.kind === "pit") lines = lines.map((line) => inNewPit(line, old, fresh));
  }
  return { parts, lines: lines.filter((line) => line.item) };
}

function newPart(models, old, id, value) {
  const model = (models?.[old.kind] || []).find((one) => one.id === value.model);
  return {
    id: `swap:${id}`,
    kind: old.kind,
    word: old.word,
    label: model?.label || "Model not recorded",
    serial: value.serial,
    in_on: null,
    condition: "unknown",
    note: "",
    data: model?.data || null,
    replaced: old,
    swap: id,
  };
}

function newLines(lines, items, old, fresh) {
  const own = lines.filter((line) => line.component === old.id);
  const wanted = fresh.data
    ? Object.values(items)
        .filter((item) => item.part_kind === old.kind && applies(item, fresh.data))
        .sort((one, other) => one.position - other.position)
    : own.map((line) => line.item);
  const made = wanted.map((item) => lineOf(item, old, fresh, own));
  const kept = [];
  const placed = new Set();
  for (const line of lines) {
    if (line.component !== old.id) {
      kept.push(line);
      continue;
    }
    const { step } = line.item;
    if (placed.has(step)) continue;
    placed.add(step);
    kept.push(...made.filter((one) => one.item.step === step));
  }
  return kept;
}

// Whether the model's data meets every key of the item's `applies_to`; what is not recorded counts as null.
function applies(item, data) {
  return Object.entries(item.applies_to || {}).every(([key, accepted]) => accepted.includes(data[key] ?? null));
}

function lineOf(item, old, fresh, own) {
  const before = own.find((line) => line.item === item);
  return {
    field: `answer:${item.code}:${fresh.id}`,
    item,
    component: fresh.id,
    part: before?.part || fresh.word,
    last: null,
    data: before?.data,
  };
}

// The tests made in a pit that was swapped are reckoned with the new one's width.
function inNewPit(line, old, fresh) {
  if (String(line.data?.pit) !== old.id) return line;
  return { ...line, data: { pit: fresh.id, pit_diameter_m: fresh.data?.diameter_m ?? null } };
}
