// Small conveniences. Every page works without them.
(() => {
  const root = document.documentElement;

  // Light, dark, or as the device has it.
  const showScheme = () => {
    const now = root.dataset.scheme || "device";
    for (const button of document.querySelectorAll("[data-set-scheme]")) {
      button.setAttribute("aria-pressed", String(button.dataset.setScheme === now));
    }
  };
  const setScheme = (wanted) => {
    if (wanted === "device") delete root.dataset.scheme;
    else root.dataset.scheme = wanted;
    try {
      if (wanted === "device") localStorage.removeItem("scheme");
      else localStorage.setItem("scheme", wanted);
    } catch {
      // Nothing can be kept here: the choice lasts for this page.
    }
    showScheme();
  };

  // A stepper changes its number by the field's own step and stays between its limits.
  const step = (button) => {
    const input = button.parentElement.querySelector("input");
    const size = Number(input.step) || 1;
    const places = (String(size).split(".")[1] || "").length;
    const start = input.value === "" ? Number(input.min || 0) - (button.dataset.step > 0 ? size : -size) : Number(input.value);
    let value = start + Number(button.dataset.step) * size;
    if (input.min !== "") value = Math.max(value, Number(input.min));
    if (input.max !== "") value = Math.min(value, Number(input.max));
    input.value = value.toFixed(places);
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  };

  document.addEventListener("click", (event) => {
    const at = event.target instanceof Element ? event.target : null;
    const scheme = at?.closest("[data-set-scheme]");
    if (scheme) setScheme(scheme.dataset.setScheme);
    const stepping = at?.closest(".stepper [data-step]");
    if (stepping) step(stepping);
    const opener = at?.closest("[data-opens]");
    if (opener) document.getElementById(opener.dataset.opens)?.showModal();
    if (at?.closest("[data-closes]")) at.closest("dialog")?.close();
    for (const menu of document.querySelectorAll(".menu[open]")) if (!menu.contains(at)) menu.open = false;
    if (!at?.closest(".find")) closeHits();
  });

  // The find box: arrow keys walk the hits, Enter opens one, Escape puts them away, "/" comes back to the box.
  const box = () => document.getElementById("find-q");
  const hits = () => [...document.querySelectorAll("#find-results a[role=option]")];
  function closeHits() {
    const list = document.getElementById("find-results");
    if (list) list.replaceChildren();
    box()?.setAttribute("aria-expanded", "false");
    box()?.removeAttribute("aria-activedescendant");
  }
  const mark = (to) => {
    for (const hit of hits()) hit.setAttribute("aria-selected", String(hit === to));
    if (to) {
      box().setAttribute("aria-activedescendant", to.id);
      to.scrollIntoView({ block: "nearest" });
    }
  };
  document.addEventListener("keydown", (event) => {
    const typing = event.target instanceof Element && event.target.matches("input, textarea, select, [contenteditable]");
    if (event.key === "/" && !typing && box()) {
      event.preventDefault();
      box().focus();
      return;
    }
    if (event.key === "Escape") {
      closeHits();
      for (const menu of document.querySelectorAll(".menu[open]")) menu.open = false;
    }
    if (event.target !== box()) return;
    const list = hits();
    const now = list.findIndex((hit) => hit.getAttribute("aria-selected") === "true");
    if (list.length && (event.key === "ArrowDown" || event.key === "ArrowUp")) {
      event.preventDefault();
      const by = event.key === "ArrowDown" ? 1 : -1;
      mark(list[(now + by + list.length + (now < 0 && by < 0 ? 1 : 0)) % list.length]);
    }
    if (event.key === "Enter" && now >= 0) {
      event.preventDefault();
      (list[now].matches("a") ? list[now] : list[now].querySelector("a"))?.click();
    }
  });
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.target.id !== "find-results") return;
    hits().forEach((hit, at) => { hit.id ||= `find-hit-${at}`; });
    box()?.setAttribute("aria-expanded", String(hits().length > 0));
    box()?.removeAttribute("aria-activedescendant");
  });

  // What was typed before the scripts were ready is looked up when they are.
  document.addEventListener("htmx:load", () => {
    if (box() && box() === document.activeElement && box().value !== box().defaultValue) box().dispatchEvent(new CustomEvent("typed-early"));
  }, { once: true });

  // When the machine does not answer, say so and keep what was typed.
  const say = (sentence) => {
    const area = document.getElementById("sayings");
    if (!area) return;
    area.querySelector("[data-from-script]")?.remove();
    const saying = document.createElement("p");
    saying.className = "saying error";
    saying.dataset.fromScript = "";
    saying.textContent = sentence;
    area.append(saying);
  };
  document.addEventListener("htmx:sendError", () => say("The studio's machine did not answer. What you typed is still here: try again in a moment."));
  document.addEventListener("htmx:responseError", (event) => {
    const status = event.detail.xhr.status;
    say(status === 403 || status === 401
      ? "You are signed out, or may not do that. Sign in again in another tab; what you typed is still here."
      : "That did not work. Nothing was changed; what you typed is still here.");
  });
  document.addEventListener("htmx:afterOnLoad", () => document.querySelector("#sayings [data-from-script]")?.remove());

  showScheme();
})();
