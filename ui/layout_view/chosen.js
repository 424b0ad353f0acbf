// The words and buttons of the chosen part, and what was asked for on the layout.

const STATE_WORDS = {
  "": "may still move",
  held: "held here",
  cut: "cut",
  milled: "milled",
  resting: "resting",
  done: "done",
};

function buildChosen(tool) {
  tool.title = element("b");
  tool.about = element("span");
  tool.message = element("p", { class: "message", role: "status" });
  tool.holdButton = button("Hold here", () => tool.hold());
  tool.turnButton = button("Turn over", () => tool.act("turn"));
  tool.swapButton = button("Swap", () => tool.swap(), { "aria-pressed": "false" });
  tool.offButton = button("", () => tool.keepOff());
  tool.spareButton = button("", () => tool.reserve("more"));
  tool.lessButton = button("One spare less", () => tool.reserve("less"));
  tool.ontoField = element("select", {
    "aria-label": "Board that this part lies on",
    onchange: (event) => carryTo(tool, tool.chosen(), event.target.value),
  });
  tool.arrows = [
    ["←", "to the left", [-1, 0]],
    ["→", "to the right", [1, 0]],
    ["↑", "up", [0, -1]],
    ["↓", "down", [0, 1]],
  ].map(([sign, words, step]) => {
    const act = () => nudge(tool, tool.chosen(), step.map((one) => one * STEP_MM));
    return Object.assign(button(sign, act), { step, words });
  });
  tool.downBar = element(
    "div",
    { class: "bar down", hidden: true },
    button("Put it down", () => putDown(tool), { class: "main" }),
    button("Leave it", () => putBack(tool)),
  );
  tool.bar = element("div", { class: "bar" }, tool.holdButton, tool.turnButton, tool.swapButton);
  tool.more = element(
    "details",
    { class: "more" },
    element("summary", {}, "More"),
    element(
      "div",
      { class: "where" },
      element("div", { class: "bar small arrows", role: "group", "aria-label": "Carry" }, ...tool.arrows),
      element("label", { class: "kind" }, "Lies on ", tool.ontoField),
    ),
    element("div", { class: "bar small" }, tool.offButton, tool.spareButton, tool.lessButton),
  );
  tool.hint = element("p", { class: "hint" });
  tool.rules = element("ul", { class: "rules" });
  tool.panel = element(
    "aside",
    { "aria-label": "The chosen part" },
    element("p", { class: "about" }, tool.title, tool.about),
    tool.bar,
    tool.downBar,
    tool.hint,
    tool.message,
    tool.more,
    tool.rules,
  );
  return tool.panel;
}

// What an arrow means on the wood: which way the board lies decides.
function nameArrows(tool, part) {
  for (const arrow of tool.arrows) {
    const [along] = onTheBoard(tool, tool.boardOf(part.board), ...arrow.step);
    const where = along ? `towards end ${along < 0 ? "A" : "B"}` : arrow.words;
    arrow.setAttribute("aria-label", `Carry ${STEP_MM} mm ${where}`);
  }
}

function paintChosen(tool) {
  const part = tool.chosen();
  tool.panel.classList.toggle("idle", !part && !tool.memory.message);
  setText(tool.message, tool.memory.message);
  setText(tool.title, part ? part.label : "No part chosen");
  const about = part && [part.size, part.asks, showWords(part), STATE_WORDS[part.stays]];
  setText(tool.about, part ? about.filter(Boolean).join(" · ") : "");
  for (const node of [tool.bar, tool.more]) node.hidden = !part || tool.isReadOnly();
  setText(tool.hint, hintOf(tool, part));
  paintRules(tool);
  paintPutDown(tool);
  if (!part) return;
  nameArrows(tool, part);
  const isCut = !tool.mayCarry(part) && part.stays !== "";
  tool.holdButton.disabled = isCut;
  setText(tool.holdButton, part.locked ? "Let go" : "Hold here");
  tool.holdButton.setAttribute("aria-pressed", Boolean(part.locked));
  tool.turnButton.hidden = !part.show_face;
  tool.turnButton.disabled = isCut;
  tool.swapButton.hidden = Boolean(part.layer);
  tool.swapButton.disabled = isCut;
  tool.swapButton.setAttribute("aria-pressed", Boolean(tool.swapping));
  setText(tool.offButton, `Not from ${part.board}`);
  const spares = tool.data.spares.find((one) => one.part === part.part)?.count ?? 0;
  setText(tool.spareButton, spares ? `One spare more (${spares} reserved)` : "Reserve a spare");
  tool.lessButton.hidden = !spares;
  keyed(
    tool.ontoField,
    tool.data.boards,
    (board) => board.id,
    (board) => {
      const option = element("option", { value: board.id });
      setText(option, board.id);
      return option;
    },
    () => {},
  );
  tool.ontoField.value = part.board;
  tool.ontoField.disabled = isCut;
}

function hintOf(tool, part) {
  if (tool.isReadOnly()) return "The search goes on: stop it to take parts in hand.";
  if (tool.swapping) return "Tap the part to swap it with.";
  if (!part)
    return FINGER.matches
      ? "Tap a part, then drag it. It lands only where it may lie."
      : "Drag a part to where you want it: it lands only where it may lie. Squares at its corners say that a part is held.";
  const below = tool.nextSlice(part);
  return below.layer && nameOf(below) !== nameOf(part)
    ? `${below.label} is resawn from the same blank: tap again to choose it.`
    : "";
}

function paintPutDown(tool) {
  const isByKeys = Boolean(tool.carry?.moving && tool.carry.pointer === null);
  tool.downBar.hidden = !isByKeys;
}

function paintRules(tool) {
  keyed(
    tool.rules,
    tool.data.forbidden,
    (rule) => `${rule.part}|${rule.board}`,
    (rule) => {
      const again = button("Let it on again", () =>
        tool.say("allow", { part: rule.part, board: rule.board }),
      );
      return element("li", {}, element("span"), again);
    },
    (node, rule) => {
      setText(node.firstChild, `${rule.part}: not from ${rule.board}`);
      node.lastChild.setAttribute("aria-label", `Let ${rule.part} onto ${rule.board} again`);
    },
  );
}
