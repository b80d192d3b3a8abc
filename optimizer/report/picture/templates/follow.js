// What runs by the plan: the same words as moment_words.py, from the table of steps and the clock of the device.
addEventListener("DOMContentLoaded", () => {
  const panel = document.getElementById("follow");
  if (!panel) return;
  const FAR_AHEAD = 86400, LONG_PAST = 43200, IN_SECONDS = 600, LONGEST = 40, HOUR = 18;
  const [begun, from, to] = panel.dataset.span.split(" ").map(Number), flips = panel.dataset.flip;
  const part = (name) => panel.querySelector("." + name);
  // a number stays on the line of its unit
  const tied = (text) => text.replace(/(\d|min|h) (?=\d|(?:h|min|s)\b)/g, "$1\u00a0");
  const put = (node, words) => { if (node.textContent !== words) node.textContent = words; };

  const day = (seconds) => (seconds % 86400 + 86400) % 86400;
  const ofDay = (text) => text.split(":").reduce((all, each) => 60 * all + Number(each), 0);

  const heads = [...document.querySelectorAll(".steps th")].map((head) => head.className);
  let last = begun;
  const steps = [...document.querySelectorAll(".steps tbody tr")].map((row) => {
    const cell = (key) => row.cells[heads.indexOf(key)]?.textContent ?? "";
    // steps follow each other: the day is that of the step before
    const start = last + day(ofDay(cell("start_utc")) - last + 43200) - 43200;
    const end = last = start + day(ofDay(cell("end_utc")) - start);
    const late = row.dataset.late ? Number(row.dataset.late) : day(ofDay(cell("latest")) - ofDay(cell("start")));
    return {
      start, end, latest: cell("latest") ? start + late : null,
      kind: cell("act"), target: cell("target"), filter: cell("filter"), exposure: cell("exposure"),
      goal: ["target", "filter", "exposure", "gain", "offset"].map(cell).join("\n") + "\n" + (cell("binning") || 1),
    };
  });
  const ends = Math.max(...steps.map((step) => step.end));

  const exempt = flips === "mount" ? ["wait", "park", "flip"] : ["wait", "park"], slack = [];
  for (let i = steps.length - 1, after = Infinity; i >= 0; i--) {
    const step = steps[i];
    if (step.kind === "wait") after += step.end - step.start;
    if (step.latest !== null && !exempt.includes(step.kind)) after = Math.min(after, step.latest - step.start);
    slack[i] = after;
  }

  const two = (number) => String(number).padStart(2, "0");
  const span = (seconds) => {
    const minutes = Math.floor(seconds / 60);
    if (seconds < 60) return `${seconds} s`;
    if (seconds < IN_SECONDS) return `${minutes} min ${two(seconds % 60)} s`;
    return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${two(minutes % 60)} min`;
  };
  const name = (text) => [...text].length <= LONGEST ? text : [...text].slice(0, LONGEST - 1).join("") + "…";
  const alike = (i, by) => {
    let number = 0;
    for (let k = i + by; steps[k] && !["slew", "flip", "park"].includes(steps[k].kind); k += by) {
      if (steps[k].kind !== "expose") continue;
      if (steps[k].goal !== steps[i].goal) break;
      number++;
    }
    return number;
  };
  const doing = (step) => {
    const parts = [step.kind];
    if (step.kind === "expose") {
      const i = steps.indexOf(step), before = alike(i, -1) + 1;
      parts[0] = `sub ${before} of ${before + alike(i, 1)}`;
      parts.push(`${name(step.filter || "-")} ${step.exposure || 0} s`);
    } else if (step.kind === "filter change" && step.filter) parts.push(name(step.filter));
    if (step.target) parts.push(name(step.target));
    return parts.join(", ");
  };

  const words = (now) => {
    const due = (t) => `at ${clock(t)}, in ${span(t - now)}`;
    const at = steps.filter((step) => step.start <= now).length, later = steps.slice(at);
    const running = steps.slice(0, at).reverse().find((step) => now < step.end);
    const next = later.find((step) => !running || step.kind !== "dither"
      && (step.kind !== running.kind || step.kind !== "expose" || step.goal !== running.goal));
    const flip = later.find((step) => step.kind === "flip");
    const spare = at < steps.length ? slack[at] + (running && running.kind === "wait" ? running.end - now : 0) : Infinity;
    const said = {
      now: now < begun ? `the list begins ${due(begun)}`
        : now >= ends ? `the list ended at ${clock(ends)}, ${span(now - ends)} ago`
        : running ? `${doing(running)}; until ${clock(running.end)}, ${span(running.end - now)} left`
        : "nothing: the list has a gap here",
      next: next ? `${doing(next)}; ${due(next.start)}` : "nothing: the list ends with this",
      flip: "none in this list",
      slack: spare === Infinity ? "no later step can be too late"
        : spare <= 0 ? "none: a later step must not be late at all"
        : `${span(spare)}: so late the list may run without breaking or losing anything`,
    };
    if (flip && flips === "mount") said.flip = `the mount makes it by itself, ${due(flip.start)}`;
    else if (flip) said.flip = due(flip.start) + (flip.latest === null ? "" : `; no later than ${clock(flip.latest)}`);
    else if (running && running.kind === "flip") said.flip = "under way, the last one of this list";
    else if (steps.some((step) => step.kind === "flip")) said.flip = "none left in this list";
    return said;
  };

  const lines = [...document.querySelectorAll(".here")].map((node) => {
    const [left, right, most] = node.dataset.x.split(" ").map(Number);
    const hours = [...node.ownerSVGElement.querySelectorAll(".local text")].map((hour) => ({ hour, at: Number(hour.getAttribute("x")) }));
    return { node, left, right, most, hours, tag: node.querySelector("g"), text: node.querySelector("text") };
  });
  const draw = (now) => {
    const share = (now - from) / (to - from);
    for (const { node, left, right, most, hours, tag, text } of lines) {
      const x = left + share * (right - left), half = Number(text.getAttribute("x"));
      const box = Math.min(most, Math.max(0, x - half)), on = share >= 0 && share <= 1;
      node.classList.toggle("on", on);
      node.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
      tag.setAttribute("transform", `translate(${(box - x).toFixed(1)} 0)`);
      put(text, `now ${clock(now).slice(0, 5)}`);
      // no half of an hour looks out from under the sign
      hours.forEach(({ hour, at }) => hour.classList.toggle("under", on && Math.abs(box + half - at) < half + HOUR));
    }
  };
  const tell = (now) => {
    const far = begun - now > FAR_AHEAD || now - ends > LONG_PAST, t = now < begun ? begun : ends;
    panel.classList.toggle("far", far);
    panel.classList.toggle("over", now >= ends);
    put(part("quiet"), far ? `By the plan this list ${now < begun ? "begins" : "ended"} on ${local(t).slice(0, 10)} at ${clock(t)}.` : "");
    if (far) return;
    panel.classList.toggle("soon", steps.some((step) => step.kind === "flip" && step.start - IN_SECONDS < now && now < step.end));
    put(part("clock"), clock(now));
    for (const [key, said] of Object.entries(words(now))) {
      const node = panel.querySelector(`[data-key=${key}]`);
      if (!node) continue;
      const text = tied(said), cut = text.search(/[;:] |, in /);
      put(node.firstChild, cut < 0 ? text : text.slice(0, cut));
      put(node.lastChild, cut < 0 ? "" : text.slice(cut));
    }
  };

  let timer = 0, drawn = null;
  const tick = (woken) => {
    clearTimeout(timer);
    // a phone that sleeps stops every clock of a page: so it is told as soon as it is looked at again
    if (document.hidden) return;
    const now = Math.floor(Date.now() / 1000), quarter = Math.floor(now / 15);
    tell(now);
    if (woken === true || quarter !== drawn) draw(now);
    drawn = quarter;
    timer = setTimeout(tick, 1000 - Date.now() % 1000);
  };
  const wake = () => tick(true);
  document.addEventListener("visibilitychange", wake);
  addEventListener("pageshow", wake);
  wake();
  panel.hidden = false;
});
