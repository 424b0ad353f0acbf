// What was said and is not answered yet, laid over the server's data.

function overlay(said, flaws, faces, ends) {
  const flaw = flaws.find((one) => one.id === said.flaw);
  const face = faces.find((one) => one.number === said.face);
  const end = ends.find((one) => one.name === said.to);
  const seen = (one) => (one.state === "added" ? "added" : "confirmed");
  switch (said.verb) {
    case "keep":
      if (!flaw) break;
      flaw.state = seen(flaw);
      if (said.sound != null) flaw.sound = said.sound;
      break;
    case "strike":
      if (flaw) flaw.state = "struck";
      break;
    case "reopen":
      if (flaw) flaw.state = OPEN;
      break;
    case "look_over":
      if (face) face.looked_over = true;
      break;
    case "look_again":
      if (face) face.looked_over = false;
      break;
    case "end_seen":
    case "end_unseen":
      if (end) end.seen = said.verb === "end_seen";
      break;
    case "draw":
      if (flaw) break;
      flaws.push({
        id: said.flaw,
        kind: said.kind,
        word: said.kind.replaceAll("_", " "),
        state: "added",
        sound: null,
        drawn: true,
        sure: "drawn by you",
        rank: flaws.length,
        where: "",
        reason: "",
        rings: { [said.face]: said.ring },
      });
      break;
    case "reshape":
      if (!flaw) break;
      flaw.rings = { ...flaw.rings, [said.face]: said.ring };
      flaw.state = seen(flaw);
      break;
    case "rename":
      if (!flaw) break;
      flaw.kind = said.kind;
      flaw.word = said.kind.replaceAll("_", " ");
      flaw.state = seen(flaw);
      break;
    case "delete":
      if (flaw) flaws.splice(flaws.indexOf(flaw), 1);
      break;
    case "join": {
      const other = flaws.findIndex((one) => one.id === said.other);
      if (other >= 0) flaws.splice(other, 1);
      break;
    }
  }
}
