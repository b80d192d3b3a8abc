"use strict";
(() => {
  const root = document.documentElement;
  root.classList.add("js");
  document.addEventListener("DOMContentLoaded", () => {
    const id = (name) => document.getElementById(name), all = (words, from = document) => [...from.querySelectorAll(words)];
    const map = id("map"), body = map.tBodies[0], readout = id("readout"), spoken = id("spoken");
    const nights = all("details.night"), last = nights.length - 1;
    const pick = id("rig"), plain = new Map();
    let rows = [], place = [0, 1], chosen = -1, rig = -1;
    const cellsOf = (row) => [...row.cells].filter((cell) => !cell.matches(".f"));
    const gather = () => { rows = [...map.tHead.rows].slice(1).concat([...body.rows].filter((row) => !row.hidden)).map(cellsOf); };
    const target = (cell) => cell.querySelector("a") || cell;
    const words = (cell) => cell.textContent.trim();
    const date = (night) => nights[night].querySelector("summary").textContent.split(":")[0];
    const summary = (t) => id(`t${t}`).querySelector("summary").textContent.trim();

    const ofRig = (row) => row.dataset.rigs.split("|")[rig];
    const skyOf = (row, night) => {
      const text = rig < 0 ? row.dataset.sky.split(" ")[night] : ofRig(row).split(" ")[night].split(",")[1] || "0";
      const [open, moonless] = text.split("/").map((tenths) => `${tenths / 10} h`);
      return `open ${open}${moonless ? `, without Moon ${moonless}` : ""}${pick && rig < 0 ? " of all rigs" : ""}`;
    };
    const blocks = (night) => (pick ? all(rig < 0 ? "[data-r]" : `[data-r="${rig}"]`, nights[night]) : [nights[night]]);
    const frames = (night, t) => blocks(night).map((block) => {
      const own = all(`tr[data-t="${t}"] td:nth-child(5)`, block).map(words).join(", ");
      return own && pick && rig < 0 ? `${words(block.querySelector("h3 bdi"))} ${own}` : own;
    }).filter(Boolean).join("; ");
    const told = (cell) => {
      const row = cell.parentNode, own = cellsOf(row), night = own.indexOf(cell) - 1, t = row.dataset.t;
      if (night < 0) return t === undefined ? words(cell) : summary(t);
      const [block] = blocks(night);
      if (pick && rig >= 0 && !block) return `${date(night)}: not a night of this rig`;
      if (row.matches(".days")) return rig < 0 ? nights[night].querySelector("summary").textContent : `${date(night)}, ${words(block.querySelector("h3"))}`;
      if (t === undefined) return pick && rig < 0 ? `${date(night)}: ${words(own[0])}${row.matches(".dark") ? " (longest)" : row.matches(".odds") ? " (mean)" : ""}: ${words(cell)}` : `${date(night)}: ${words(block.querySelector("p"))}`;
      const kinds = cell.classList, parts = [];
      const used = /q\d/.test(cell.className);
      if (used) parts.push(`planned ${frames(night, t)} (${Number(words(cell))} h)`, skyOf(row, night));
      else if (kinds.contains("d")) parts.push(rig < 0 ? "all in hand" : "nothing left for this rig");
      else if (kinds.contains("m")) parts.push(`closed by moonlight alone (${skyOf(row, night)})`);
      else if (kinds.contains("x")) parts.push("closed all night");
      else parts.push(`${skyOf(row, night)}, not used`);
      if (kinds.contains("h")) parts.push("finished by this evening in half of the simulated seasons");
      if (kinds.contains("k")) parts.push("finished by this evening in 90 % of the simulated seasons");
      if (kinds.contains("u")) parts.push("last evening of any use");
      return `${words(own[0])}, ${date(night)}: ${parts.join("; ")}`;
    };

    let marked = [];
    const show = (cell) => {
      const night = cellsOf(cell.parentNode).indexOf(cell);
      marked.forEach((each) => each.classList.remove("on"));
      marked = [rows[0][night], cell.parentNode.cells[0]];
      marked.forEach((each) => each.classList.add("on"));
      const text = told(cell);
      readout.textContent = text;
      return text;
    };
    const focusOn = (r, c) => {
      const old = rows[place[0]][place[1]];
      if (old) target(old).tabIndex = -1;
      place = [r, c];
      const cell = rows[r][c], node = target(cell);
      node.tabIndex = 0;
      node.setAttribute("aria-label", show(cell));
      node.focus({ preventScroll: true });
      cell.scrollIntoView({ block: "nearest", inline: "nearest" });
      // what is scrolled to must not lie under the names, which stay in place
      const box = map.parentNode, edge = rows[r][0].getBoundingClientRect().right - cell.getBoundingClientRect().left;
      if (c > 0 && edge > 0) box.scrollLeft -= edge;
    };
    const find = (cell) => { const r = rows.findIndex((row) => row.includes(cell)); return [r, rows[r].indexOf(cell)]; };

    const openNight = (night, t, jump = true) => {
      chosen = night;
      nights.forEach((each, number) => { each.open = number === night; });
      rows[0].slice(1).forEach((each, number) => {
        each.classList.toggle("chosen", number === night);
        target(each).setAttribute("aria-current", String(number === night));
      });
      all("tr.on", id("nights")).forEach((each) => each.classList.remove("on"));
      if (t !== undefined) all(`tr[data-t="${t}"]`, nights[night]).forEach((each) => each.classList.add("on"));
      id("back").disabled = night === 0;
      id("on").disabled = night === last;
      if (!jump) return;
      id("nights").scrollIntoView({ block: "start" });
      nights[night].querySelector("summary").focus({ preventScroll: true });
    };
    const openTarget = (t) => {
      const details = id(`t${t}`);
      details.open = true;
      details.scrollIntoView({ block: "start" });
      details.querySelector("summary").focus({ preventScroll: true });
    };
    const choose = (r, c) => {
      const row = rows[r][c].parentNode;
      if (c > 0) openNight(c - 1, row.dataset.t);
      else if (row.dataset.t !== undefined) openTarget(row.dataset.t);
    };
    const toMap = () => focusOn(...place);

    gather();
    map.setAttribute("role", "grid");
    map.parentNode.removeAttribute("tabindex");
    rows.flat().forEach((cell) => { target(cell).tabIndex = -1; });
    if (rows[0][1]) { target(rows[0][1]).tabIndex = 0; openNight(0, undefined, false); }
    map.addEventListener("keydown", (event) => {
      const cell = event.target.closest("td,th");
      if (!cell || event.altKey || event.metaKey) return;
      const [r, c] = find(cell), bottom = rows.length - 1, right = rows[r].length - 1;
      const to = {
        ArrowLeft: [r, c - 1], ArrowRight: [r, c + 1], ArrowUp: [r - 1, c], ArrowDown: [r + 1, c],
        Home: event.ctrlKey ? [0, 1] : [r, 1], End: event.ctrlKey ? [bottom, right] : [r, right],
        PageUp: [r - 5, c], PageDown: [r + 5, c],
      }[event.key];
      if (to) focusOn(Math.min(bottom, Math.max(0, to[0])), Math.min(right, Math.max(0, to[1])));
      else if (event.key === "Enter" || event.key === " ") choose(r, c);
      else return;
      event.preventDefault();
    });
    map.addEventListener("focusin", (event) => {
      const cell = event.target.closest("td,th");
      if (cell && cell !== rows[place[0]][place[1]]) focusOn(...find(cell));
      else if (cell) show(cell);
    });
    map.addEventListener("pointermove", (event) => {
      const cell = event.target.closest("td,th");
      if (event.pointerType === "mouse" && cell && rows.some((row) => row.includes(cell))) show(cell);
    });
    let touched = null;
    map.addEventListener("click", (event) => {
      const cell = event.target.closest("td,th");
      if (!cell || !rows.some((row) => row.includes(cell))) return;
      event.preventDefault();
      const [r, c] = find(cell), again = touched === cell;
      touched = cell;
      focusOn(r, c);
      // a finger does not hover: its first touch reads, its second one chooses
      if (event.pointerType === "touch" && !again) readout.textContent += " (touch again to show it)";
      else choose(r, c);
    });
    document.addEventListener("click", (event) => {
      const link = event.target.closest('a[href^="#"]');
      if (!link || map.contains(link)) return;
      const [kind, number] = [link.hash[1], Number(link.hash.slice(2))];
      event.preventDefault();
      if (kind === "n") openNight(number);
      else openTarget(number);
    });
    document.addEventListener("keydown", (event) => { if (event.key === "Escape" && !map.contains(event.target)) toMap(); });
    nights.forEach((each) => each.querySelector("summary").addEventListener("click", (event) => { event.preventDefault(); toMap(); }));
    id("back").addEventListener("click", () => openNight(Math.max(0, chosen - 1)));
    id("on").addEventListener("click", () => openNight(Math.min(last, chosen + 1)));
    id("up").addEventListener("click", toMap);

    const cellOfRig = (row, part, cell) => {
      const [state, text] = part.split(",");
      if (row.parentNode !== body) return [state.replace("/", " "), text];
      const step = /^\d/.test(state), kept = plain.get(cell)[0].match(/\b[hk]\b/g) || [];
      return [[step ? `q${state[0]}` : state, ...kept].join(" "), step ? state.slice(1) : state ? "" : "·"];
    };
    const narrow = () => {
      const kept = rows[place[0]][place[1]], name = pick.selectedOptions[0].text;
      rig = Number(pick.value);
      all("tr[data-rigs]", map).forEach((row) => {
        const parts = rig < 0 ? null : ofRig(row).split(" ");
        row.hidden = parts !== null && parts[0] === "-";
        if (!row.hidden) cellsOf(row).slice(1).forEach((cell, night) => {
          if (!plain.has(cell)) plain.set(cell, [cell.className, cell.textContent]);
          [cell.className, cell.textContent] = parts ? cellOfRig(row, parts[night], cell) : plain.get(cell);
        });
      });
      all("[data-r]").forEach((block) => { block.hidden = rig >= 0 && Number(block.dataset.r) !== rig; });
      gather();
      target(kept).tabIndex = -1;
      place = kept.parentNode.hidden ? [0, 1] : find(kept);
      target(rows[place[0]][place[1]]).tabIndex = 0;
      id("maphead").textContent = `Targets by nights${rig < 0 ? "" : `: ${name}`}`;
      spoken.textContent = `Shown: ${name}, ${[...body.rows].filter((row) => !row.hidden).length} targets`;
    };
    if (pick && rows[0][1]) { pick.addEventListener("change", narrow); narrow(); }

    const sorts = all("[data-sort]");
    sorts.forEach((button) => button.addEventListener("click", () => {
      const kept = rows[place[0]][place[1]], rank = (row) => Number(row.dataset.o.split(" ")[button.dataset.sort]);
      body.append(...[...body.rows].sort((one, two) => rank(one) - rank(two)));
      gather();
      place = find(kept);
      sorts.forEach((each) => each.setAttribute("aria-pressed", String(each === button)));
      spoken.textContent = `Sorted by ${button.textContent}`;
    }));
  });
})();
