// Keeps the line under the questions in step with the answers that are marked; nothing leaves the page by itself.
"use strict";
const form = document.querySelector("form.owner");
const line = document.getElementById("line");
const send = document.getElementById("send");
function told() {
  const codes = [...form.querySelectorAll("input:checked")].map((input) => input.value);
  line.textContent = [form.dataset.head, ...codes].join(" ");
  document.getElementById("by-hand").hidden = codes.length > 0;
  document.getElementById("ready").hidden = codes.length === 0;
  send.href = "mailto:?subject=" + encodeURIComponent(document.title) + "&body=" + encodeURIComponent(line.textContent);
}
form.addEventListener("change", told);
form.addEventListener("submit", (event) => event.preventDefault());
// Going back to the page keeps the marks.
told();
