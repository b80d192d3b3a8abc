"use strict";
(() => {
  const root = document.documentElement, KEY = "darkfill-theme", THEMES = ["light", "dark", "red"];
  const remembered = () => { try { return localStorage.getItem(KEY); } catch { return null; } };
  // a page may be denied its memory
  const keep = (theme) => { try { localStorage.setItem(KEY, theme); } catch {} };
  // before the first drawing, so that nobody is dazzled by the wrong ground
  const before = remembered();
  if (THEMES.includes(before)) root.dataset.theme = before;
  else if (!THEMES.includes(root.dataset.theme)) root.dataset.theme = matchMedia("(prefers-color-scheme:dark)").matches ? "dark" : "light";

  document.addEventListener("DOMContentLoaded", () => {
    const buttons = [...document.querySelectorAll("[data-set]")];
    const press = () => buttons.forEach((b) => b.setAttribute("aria-pressed", String(b.dataset.set === root.dataset.theme)));
    buttons.forEach((b) => b.addEventListener("click", () => { root.dataset.theme = b.dataset.set; keep(b.dataset.set); press(); }));
    press();
  });
})();
