// Without script all of this works by itself. With it, a file can be dropped anywhere on the page, one too large is refused
// before it is sent, sending that takes over a second is told, and a form that is refused keeps its file.
(() => {
  "use strict";
  const most = 16 * 1024 * 1024;
  const say = (form, words) => { const p = form.querySelector(".sent"); if (p) { p.hidden = !words; p.textContent = words; } };
  const fits = (form, input) => {
    const file = input.files[0];
    const large = file && file.size > most;
    input.setCustomValidity(large ? "This file has more than 16 MiB: choose a smaller one" : "");
    say(form, !file ? "" : large ? `“${file.name}” has ${Math.ceil(file.size / 1048576)} MiB; 16 MiB at most are taken.` : `“${file.name}” is sent with the form.`);
  };
  const put = (form, files) => {
    const input = form.querySelector("input[type=file]");
    if (!input || !files.length) return;
    input.files = files;
    fits(form, input);
    input.focus();
  };
  const answered = (form, request) => {
    if (request.responseURL && request.status < 400 && new URL(request.responseURL).pathname !== new URL(form.action).pathname) {
      location.assign(request.responseURL);
      return;
    }
    const page = new DOMParser().parseFromString(request.responseText, "text/html");
    const main = document.getElementById("main"), files = form.querySelector("input[type=file]").files;
    main.replaceChildren(...page.getElementById("main").childNodes);
    document.title = page.title;
    const again = main.querySelector("form[data-drop]");
    if (again) { begin(again); put(again, files); }
    const problem = document.getElementById("problem");
    if (problem) { problem.tabIndex = -1; problem.focus(); }
  };
  const send = (form, button) => {
    const body = new FormData(form, button), request = new XMLHttpRequest(), began = Date.now();
    request.open("POST", form.action);
    request.upload.addEventListener("progress", (e) => {
      if (e.lengthComputable && Date.now() - began > 1000) say(form, `Sent ${Math.floor(100 * e.loaded / e.total)} %.`);
    });
    request.upload.addEventListener("load", () => { if (Date.now() - began > 1000) say(form, "Sent. The server reads the route."); });
    request.addEventListener("load", () => answered(form, request));
    request.addEventListener("error", () => { form.removeAttribute("aria-busy"); say(form, "It could not be sent. Nothing you typed is lost: try again."); });
    form.setAttribute("aria-busy", "true");
    request.send(body);
  };
  const begin = (form) => {
    const input = form.querySelector("input[type=file]");
    input.addEventListener("change", () => fits(form, input));
    form.addEventListener("submit", (e) => {
      if (!input.files.length) return;
      e.preventDefault();
      if (form.getAttribute("aria-busy") !== "true") send(form, e.submitter);
    });
  };
  for (const form of document.querySelectorAll("form[data-drop]")) begin(form);
  const target = () => document.querySelector("form[data-drop]");
  addEventListener("dragover", (e) => { if (target() && e.dataTransfer.types.includes("Files")) { e.preventDefault(); document.body.classList.add("dropping"); } });
  addEventListener("dragleave", (e) => { if (!e.relatedTarget) document.body.classList.remove("dropping"); });
  addEventListener("drop", (e) => { document.body.classList.remove("dropping"); if (target() && e.dataTransfer.files.length) { e.preventDefault(); put(target(), e.dataTransfer.files); } });
})();
