// Fingers, wheel and keys on the board view.

function listen(bench) {
  const loupe = bench.loupe;
  const fromMiddle = (event) => {
    const box = loupe.getBoundingClientRect();
    return {
      x: event.clientX - box.left - box.width / 2,
      y: event.clientY - box.top - box.height / 2,
    };
  };
  loupe.addEventListener(
    "wheel",
    (event) => {
      // With the whole face in sight the wheel scrolls the page on.
      if (event.deltaY > 0 && showsAll(bench)) return;
      event.preventDefault();
      zoom(bench, Math.exp(Math.sign(event.deltaY) * 0.18), fromMiddle(event));
    },
    { passive: false },
  );
  loupe.addEventListener("pointerdown", (event) => {
    // A right button opens the browser's own list, and its coming up is never told.
    if (event.button > 1) return;
    loupe.setPointerCapture(event.pointerId);
    bench.pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    // Only the main button draws, taps and takes a corner; the wheel's button moves the picture.
    const isMain = event.button === 0;
    bench.moved = bench.pointers.size > 1 || !isMain ? Infinity : 0;
    // A second finger pinches: the corner under the first one stays where it is.
    if (bench.pointers.size > 1) {
      dropCorner(bench);
      forgetStroke(bench);
    } else if (isMain && grip(bench, event)) bench.moved = Infinity;
    else if (isMain) beginStroke(bench, event);
  });
  loupe.addEventListener("pointermove", (event) => {
    const before = bench.pointers.get(event.pointerId);
    if (!before) return;
    const [dx, dy] = [event.clientX - before.x, event.clientY - before.y];
    if (bench.pointers.size === 2) {
      const other = [...bench.pointers].find(([id]) => id !== event.pointerId)[1];
      const [was, is] = [before, { x: event.clientX, y: event.clientY }].map((one) =>
        Math.hypot(one.x - other.x, one.y - other.y),
      );
      if (is > 10)
        zoom(
          bench,
          was / is,
          fromMiddle({
            clientX: (event.clientX + other.x) / 2,
            clientY: (event.clientY + other.y) / 2,
          }),
        );
      pan(bench, dx / 2, dy / 2);
    } else if (bench.edit?.drag != null) {
      dragCorner(bench, event);
    } else {
      bench.moved += Math.abs(dx) + Math.abs(dy);
      if (bench.edit?.stroke) goOnStroke(bench, event);
      else if (bench.moved > 6) pan(bench, dx, dy);
    }
    bench.pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  const up = (event) => {
    if (!bench.pointers.delete(event.pointerId)) return;
    dropCorner(bench);
    if (event.type === "pointerup") endStroke(bench);
    else forgetStroke(bench);
    if (!bench.pointers.size && bench.held) {
      bench.held = null;
      bench.take(bench.component);
    }
    if (event.type === "pointerup" && bench.moved <= 6) tapMark(bench, event);
  };
  loupe.addEventListener("pointerup", up);
  loupe.addEventListener("pointercancel", up);
  bench.root.addEventListener("keydown", (event) => onKey(bench, event));
}

// A capture sends every event to the picture itself, so ask what lies under the finger.
function tapMark(bench, event) {
  const under = bench.root.getRootNode().elementsFromPoint(event.clientX, event.clientY);
  const hit = under
    .map((node) => node.closest?.(".flaw"))
    .find((node) => node && bench.loupe.contains(node));
  if (bench.edit) tapEdit(bench, event, hit?.dataset.flaw);
  else if (hit) bench.choose(bench.faceHere().number, hit.dataset.flaw);
}

function onKey(bench, event) {
  if (event.key === "Escape" && bench.edit) cancelEdit(bench);
  if (event.key === "Tab" || event.key === "Escape") return;
  // Streamlit takes single letters of the whole page for itself.
  event.stopPropagation();
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  // In a list of kinds a letter chooses.
  if (event.target.closest?.("select, summary")) return;
  const step = 60;
  const keys = {
    k: () => bench.decide("keep"),
    x: () => bench.decide("strike"),
    n: () => bench.next(),
    d: () => startEdit(bench, "draw"),
    r: () => startEdit(bench, "reshape"),
    u: () => bench.data.undo && bench.say("undo", {}),
    U: () => bench.data.redo && bench.say("redo", {}),
    "+": () => zoom(bench, 1 / 1.6),
    "-": () => zoom(bench, 1.6),
    0: () => bench.showAll(),
    o: () => canLayOver(bench.model(), bench.faceHere()) && toggleThrough(bench),
  };
  const onPicture = {
    ...(bench.edit ? { Enter: () => doneEdit(bench) } : {}),
    ArrowLeft: () => pan(bench, step, 0),
    ArrowRight: () => pan(bench, -step, 0),
    ArrowUp: () => pan(bench, 0, step),
    ArrowDown: () => pan(bench, 0, -step),
  };
  const act =
    keys[event.key] ??
    (bench.root.getRootNode().activeElement === bench.loupe ? onPicture[event.key] : null);
  if (act) {
    event.preventDefault();
    act();
  }
}
