// A page that a server handed out asks whether the list is still the newest; it loads nothing again by itself.
addEventListener("DOMContentLoaded", () => {
  const bar = document.getElementById("newer"), gone = document.getElementById("gone");
  if (!bar || !location.protocol.startsWith("http")) return;
  const EVERY = 60000, WAITS = 20000, etag = document.body.dataset.etag;
  let asked = Date.now(), answered = asked, asking = false;
  const bare = (text) => (text || "").replace(/^W\/|"/g, "");
  const ask = async () => {
    if (asking) return;
    asking = true;
    asked = Date.now();
    const stop = new AbortController(), timer = setTimeout(() => stop.abort(), WAITS);
    try {
      // without a body where nothing is new
      const answer = await fetch("list.json", { cache: "no-cache", headers: { "If-None-Match": `"${etag}"` }, signal: stop.signal });
      if (answer.status !== 304) await answer.text();
      if (answer.status !== 304 && !answer.ok) throw new Error(answer.status);
      answered = Date.now();
      gone.textContent = "";
      const newer = answer.ok && bare(answer.headers.get("etag")) !== etag;
      if (newer !== bar.childElementCount > 0) bar.replaceChildren(...(newer ? offer() : []));
    } catch {
      gone.textContent = `No list from the server since ${clock(answered / 1000)}: whether a newer one is there is not known.`;
    }
    clearTimeout(timer);
    asking = false;
  };
  const offer = () => {
    const words = document.createElement("b"), button = document.createElement("button");
    words.textContent = "A newer list is there.";
    button.type = "button";
    button.textContent = "Load it";
    button.addEventListener("click", () => location.reload());
    return [words, button];
  };
  const look = () => { if (!document.hidden && Math.abs(Date.now() - asked) >= EVERY) ask(); };
  const wake = () => { if (!document.hidden) ask(); };
  setInterval(look, 5000);
  document.addEventListener("visibilitychange", wake);
  addEventListener("pageshow", (event) => { if (event.persisted) wake(); });
});
