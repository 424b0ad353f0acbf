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
      sentAt: 0,
      pause: 0,
      chosen: new Map(), // board -> {face, flaw}
      windows: new Map(), // board and face -> {x, y, scale}
      showParts: true,
      through: 0, // how much of the other face shows over this one
      message: "",
    });
  }
  return lots.get(lot);
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
