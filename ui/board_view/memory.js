// What a window remembers of a lot, beyond a reload where it must not be lost.

// Lives as long as the page is loaded: a drawing may be mounted anew, this may not be lost. One for
// all parts of the page, each of which is a script of its own.
const lots = (globalThis.bothfacesLots ??= new Map());

function randomName() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function memoryOf(lot) {
  if (!lots.has(lot)) {
    const kept = read(`bothfaces:${lot}`) ?? {};
    lots.set(lot, {
      client: kept.client ?? randomName(),
      outbox: kept.outbox ?? [],
      tries: 0,
      sentAt: 0, // ms, of the newest try
      pauses: 0, // waited in vain since all was answered
      saidAt: new Map(), // id -> ms, of what has no answer yet
      tookMs: 0, // from a tap to its answer, the last time
      chosen: new Map(), // board -> {face, flaw}
      windows: new Map(), // board and face -> {x, y, scale}
      showParts: true,
      through: 0, // how much of the other face shows over this one
      message: "",
      toldAt: "", // the page that the message is told on
    });
  }
  return lots.get(lot);
}

// Pauses before sending again double: each try brings the whole page anew, and over a slow line the
// answer to the first would wait behind those to the others. So the first pause is twice what the
// last answer took. None is so long that a tap seems lost.
const FIRST_PAUSE_MS = 1500;
const LONGEST_PAUSE_MS = 12000;

function pauseOver(memory) {
  const first = Math.max(FIRST_PAUSE_MS, 2 * memory.tookMs);
  return Date.now() - memory.sentAt >= Math.min(first * 2 ** memory.pauses, LONGEST_PAUSE_MS);
}

// What was answered leaves the outbox.
function letGo(lot, memory, isAnswered) {
  const answered = memory.outbox.filter((said) => isAnswered(said.id));
  for (const said of answered) {
    if (memory.saidAt.has(said.id)) memory.tookMs = Date.now() - memory.saidAt.get(said.id);
    memory.saidAt.delete(said.id);
  }
  memory.outbox = memory.outbox.filter((said) => !answered.includes(said));
  if (answered.length) keep(lot, memory);
  if (!memory.outbox.length) memory.pauses = 0;
}

function read(name) {
  try {
    return JSON.parse(sessionStorage.getItem(name));
  } catch {
    return null;
  }
}

function keep(lot, memory) {
  try {
    const text = JSON.stringify({ client: memory.client, outbox: memory.outbox });
    sessionStorage.setItem(`bothfaces:${lot}`, text);
  } catch {
    // No storage, or it is full: the outbox still lives in memory.
  }
}
