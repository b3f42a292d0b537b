// Keys for a hand that holds a probe: y and 0 answer, digits and letters are left to the page otherwise.

import { isTyping } from "./desk.js";

const form = document.querySelector(".bench-form");

document.addEventListener("keydown", (event) => {
  if (!form || isTyping(event)) return;
  const named = (name) => form.querySelector(`button[name="${name}"]`);
  if (event.key === "0") named("nothing")?.click();
  if (event.key === "y") (named("typed") ?? named("keep"))?.click();
});

form?.querySelector("input[type=checkbox], button")?.focus();
