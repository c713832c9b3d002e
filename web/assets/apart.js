// A unit taken apart: the next page is the pallet its parts lie on, which may be a fresh one.
import { around } from "./panels.js";

around.next = (form, answer) => {
  if (form.dataset.command !== "take-apart") return null;
  const codes = (answer.events ?? []).flatMap((e) => e.pallets ?? []);
  const onto = codes.find((c) => c !== form.elements.pallet.value) ?? codes[0];
  return onto ? `/station/pallets/${onto}` : null;
};
