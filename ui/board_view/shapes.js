// The outlines of a board come once: later data names them. See shapes.py.

// All that came since the page was loaded, by name; one for all parts of the page.
const shapesHere = (globalThis.bothfacesShapes ??= new Map());
const MOST_SHAPES = 600;

// The boards with their outlines in place; null where one's are not here: they are asked for.
function fillShapes(owner, data, boards) {
  for (const [name, shapes] of Object.entries(data.lacking)) shapesHere.set(name, shapes);
  const used = boards.map((board) => board.shapes);
  if (shapesHere.size > MOST_SHAPES)
    for (const name of shapesHere.keys()) if (!used.includes(name)) shapesHere.delete(name);
  const isWhole = used.every((name) => shapesHere.has(name));
  // Told with what is said next.
  owner.shapes = isWhole ? used : [];
  if (!isWhole) {
    owner.memory = memoryOf(data.lot);
    sendOutbox(owner);
    return null;
  }
  return boards.map((board) => {
    const { outlines, rings } = shapesHere.get(board.shapes);
    return {
      ...board,
      faces: board.faces.map((face, place) => ({ ...face, outline: outlines[place] })),
      flaws: board.flaws.map((flaw, place) => ({ ...flaw, rings: rings[place] })),
    };
  });
}
