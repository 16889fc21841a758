// Looks again when the shop has news, or else every 15 s, and puts in what changed. The page is complete
// without it.
(() => {
  const lost = document.getElementById("lost");
  const { at, news } = document.body.dataset;
  let looked = Date.now();
  let owed = false; // news came while a form was filled in
  let stream = null;
  const busy = () => document.activeElement?.closest("form");
  const told = () => document.querySelector("#live-as-of time")?.dateTime ?? "";
  const keep = () => { // for the page that stands in when the shop is away
    try { if (told()) localStorage.setItem("told", told()); } catch {} // nothing may be kept here
  };
  const put = (fresh) => {
    const old = document.getElementById(fresh.id);
    if (!old || old.innerHTML === fresh.innerHTML) return;
    for (const d of old.querySelectorAll("details[open]")) {
      const again = d.id && fresh.querySelector("#" + CSS.escape(d.id));
      if (again) again.open = true;
    }
    old.replaceChildren(...fresh.childNodes);
  };
  const look = async () => {
    if (document.hidden) return;
    owed = Boolean(busy());
    looked = Date.now();
    try {
      const answer = await fetch(at, { signal: AbortSignal.timeout(10000) });
      if (answer.status === 401) location.reload(); // to log in again
      if (!answer.ok) throw new Error(answer.status);
      const text = await answer.text();
      lost.hidden = true;
      if (busy()) return;
      const page = new DOMParser().parseFromString(text, "text/html");
      page.querySelectorAll("[data-live]").forEach(put);
      keep();
    } catch {
      lost.hidden = false;
    }
  };
  // Only a page that is seen listens: a browser opens few connections to one shop.
  const listen = () => {
    stream?.close();
    stream = null;
    if (document.hidden || !news) return;
    stream = new EventSource(news + "?" + new URLSearchParams({ seen: told() }));
    stream.addEventListener("news", () => { owed = true; busy() || look(); });
    stream.addEventListener("error", look); // away, or only hung up for a moment: looking tells
  };
  setInterval(() => Date.now() - looked < 14000 || look(), 1000);
  document.addEventListener("focusout", () => setTimeout(() => owed && !busy() && look()));
  document.addEventListener("visibilitychange", () => { look(); listen(); });
  listen();
  keep();
  if (news) navigator.serviceWorker?.register("/worker.js").catch(() => {}); // the page does without
})();
