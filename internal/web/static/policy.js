// The editor of a policy: the numbers beside the lines follow what is typed, lines with mistakes are marked, and a mistake
// leads to its place in the text.
(() => {
  "use strict";
  const text = document.getElementById("f-policy");
  const numbers = document.querySelector(".numbers");
  const checked = document.getElementById("checked");
  if (!text || !numbers || !checked) return;
  const number = () => {
    const lines = text.value.split("\n").length;
    while (numbers.childElementCount > lines) numbers.lastElementChild.remove();
    for (let n = numbers.childElementCount + 1; n <= lines; n++) {
      const one = document.createElement("span");
      one.id = "line-" + n;
      one.textContent = n;
      numbers.append(one);
    }
    text.rows = Math.max(lines + 2, 12);
  };
  const mark = () => {
    for (const one of numbers.querySelectorAll(".wrong")) one.classList.remove("wrong");
    for (const link of checked.querySelectorAll("[data-line]")) {
      const one = document.getElementById("line-" + link.dataset.line);
      if (one) one.classList.add("wrong");
    }
  };
  text.addEventListener("input", number);
  new MutationObserver(mark).observe(checked, { childList: true, subtree: true });
  checked.addEventListener("click", (event) => {
    const link = event.target.closest("[data-line]");
    if (!link) return;
    event.preventDefault();
    const lines = text.value.split("\n");
    const line = Math.min(+link.dataset.line, lines.length);
    const from = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
    const at = from + Math.min(Math.max(+link.dataset.column - 1, 0), lines[line - 1].length);
    text.focus({ preventScroll: true });
    text.setSelectionRange(at, from + lines[line - 1].length);
    const beside = document.getElementById("line-" + line);
    if (beside) beside.scrollIntoView({ block: "center" });
  });
  number();
  mark();
})();
