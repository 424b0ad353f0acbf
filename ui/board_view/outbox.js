// The outbox: what was said goes to the server as component state, again and again until it is
// answered. The server does each operation once.
//
// An owner has `component`, `data` (with lot, revision, answers), `memory`, `tell(message)`, and
// `shapes`, the names of outlines it need not be sent again, where it draws any.

const TICK_MS = 500;
// A phone shows no words over a button, and what is taken back may lie on another board.
const WALKED = { undo: "Taken back", redo: "Done again" };

// Take the answers that came with fresh data; what is answered leaves the outbox.
function takeAnswers(owner) {
  owner.memory = memoryOf(owner.data.lot);
  const { memory } = owner;
  // What was said on another page is told there; here it would speak of what nobody sees.
  if (memory.toldAt !== location.pathname) {
    memory.toldAt = location.pathname;
    memory.message = "";
  }
  const answered = new Map(owner.data.answers.map((answer) => [answer.operation, answer]));
  for (const said of memory.outbox) {
    const answer = answered.get(said.id);
    if (answer?.status === "refused") memory.message = answer.said;
    if (answer?.status === "stale") {
      memory.message =
        "Another window changed this meanwhile, so your last tap was not taken. Here is how it stands now.";
    }
  }
  letGo(owner.data.lot, memory, (id) => answered.has(id));
}

function post(owner, verb, about) {
  const { memory } = owner;
  // What it walks over is known once all that was tapped before is answered.
  const what = memory.outbox.length ? "" : owner.data[verb];
  memory.walked = verb in WALKED && what ? `${WALKED[verb]}: ${what}.` : "";
  memory.message = memory.walked;
  const id = randomName();
  memory.saidAt.set(id, Date.now());
  memory.outbox.push({
    id,
    client: memory.client,
    base: owner.data.revision,
    verb,
    ...about,
  });
  keep(owner.data.lot, memory);
  sendOutbox(owner);
}

function sendOutbox(owner) {
  const { memory } = owner;
  memory.tries += 1;
  memory.sentAt = Date.now();
  // The counter makes every try a change: the server is told of changes only.
  owner.component.setStateValue("outbox", {
    n: `${memory.client}-${memory.tries}`,
    ops: memory.outbox,
    shapes: owner.shapes ?? [],
  });
}

function sendAgain(owner) {
  const { memory } = owner;
  if (!memory?.outbox.length || !pauseOver(memory)) return;
  memory.pauses += 1;
  if (memory.pauses > 2) {
    memory.message =
      "The page's program does not answer. What you said is kept here and is sent again.";
    owner.tell(memory.message);
  }
  sendOutbox(owner);
}
