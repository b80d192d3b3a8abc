"use strict";
(() => {
  const root = document.documentElement;
  document.addEventListener("DOMContentLoaded", () => {
    const all = (words, from = document) => [...from.querySelectorAll(words)];
    const walk = document.getElementById("walk");
    if (!walk) return;
    const heads = all(".steps th"), rows = all(".steps tbody tr"), readout = document.getElementById("readout"), spoken = document.getElementById("spoken"), how = document.getElementById("how");
    const pictures = all("svg.picture").map((svg) => {
      const steps = svg.dataset.blocks.split(" ").flatMap((range) => {
        const [first, last = first] = range.split("-").map(Number);
        return Array.from({ length: last - first + 1 }, (_, k) => first + k);
      });
      // blocks are placed by their group: of all rectangles they alone have no y
      const blocks = all("rect:not([y])", svg).map((node, k) => {
        node.dataset.i = steps[k];
        return { node, i: steps[k], x: Number(node.getAttribute("x")), w: Number(node.getAttribute("width")) };
      });
      return { svg, cursor: svg.querySelector(".cursor"), blocks };
    });
    let marked = [];
    // the first key shows the first step, it does not leap over it
    const started = () => readout.childElementCount > 0;
    const show = (i, aloud) => {
      walk.value = i + 1;
      how.classList.add("done");
      const words = [];
      readout.replaceChildren(...[...rows[i].cells].flatMap((cell, c) => {
        if (!cell.textContent.trim()) return [];
        const pair = document.createElement("div"), dt = document.createElement("dt"), dd = document.createElement("dd");
        dt.textContent = heads[c].textContent;
        dd.textContent = cell.textContent.trim();
        dd.dataset.key = heads[c].className;
        words.push(`${dt.textContent} ${dd.textContent}`);
        pair.append(dt, dd);
        return [pair];
      }));
      walk.setAttribute("aria-valuetext", words.slice(0, 4).join(", "));
      if (aloud) spoken.textContent = words.join(", ");
      marked.forEach((node) => node.classList.remove("now"));
      marked = [rows[i]];
      for (const { cursor, blocks } of pictures) {
        const block = blocks.find((each) => each.i === i);
        const x = block ? block.x + block.w / 2 : -9;
        cursor.setAttribute("x1", x);
        cursor.setAttribute("x2", x);
        if (block) marked.push(block.node);
      }
      marked.forEach((node) => node.classList.add("now"));
    };
    // whatever lies at that time: a finger is wider than a block
    const at = (picture, event) => {
      if (event.target.dataset.i) return Number(event.target.dataset.i);
      const box = picture.svg.getBoundingClientRect();
      const x = (event.clientX - box.left) / box.width * picture.svg.viewBox.baseVal.width;
      const away = (b) => Math.max(b.x - x, x - b.x - b.w, 0);
      let best = null;
      for (const block of picture.blocks) if (!best || away(block) < away(best)) best = block;
      return best && away(best) < 12 ? best.i : null;
    };
    for (const picture of pictures) {
      for (const kind of ["pointermove", "click"]) picture.svg.addEventListener(kind, (event) => {
        if (kind === "pointermove" && event.pointerType !== "mouse") return;
        const i = at(picture, event);
        if (i !== null) show(i, kind === "click");
      });
    }
    walk.addEventListener("input", () => show(walk.value - 1, false));
    walk.addEventListener("focus", () => { if (!started()) show(0, false); });
    const go = (by) => show(!started() ? 0 : Math.min(rows.length - 1, Math.max(0, walk.value - 1 + by)), true);
    document.getElementById("back").addEventListener("click", () => go(-1));
    document.getElementById("on").addEventListener("click", () => go(1));
    const details = document.getElementById("steps");
    document.getElementById("print").addEventListener("click", () => { details.open = true; root.classList.add("sheet"); print(); });
    addEventListener("afterprint", () => root.classList.remove("sheet"));
  });
})();
