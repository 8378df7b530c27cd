// Fields for a number: one that does not serve is said in words, and changes nothing.

import { element, field } from "./dom.js";
import { text } from "./text.js";

/** A field with its words; `take` is given its number, or null where it is emptied. */
export function numberField(app, words, value, { hint, ...properties }, take) {
  const input = element("input", {
    type: "number",
    ...properties,
    value: value ?? "",
    onchange: () => {
      const number = input.value === "" ? null : Number(input.value);
      if (input.validity.valid) take(number);
      else app.say(text.noNumber(words, input), true);
    },
  });
  return field(words, input, hint);
}
