// Looks again every 15 s and puts in what changed. The page is complete without it.
(() => {
  const lost = document.getElementById("lost");
  const busy = () => document.hidden || document.activeElement?.closest("form");
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
    if (busy()) return;
    try {
      const answer = await fetch(document.body.dataset.at, { signal: AbortSignal.timeout(10000) });
      if (answer.status === 401) location.reload(); // to log in again
      if (!answer.ok) throw new Error(answer.status);
      const text = await answer.text();
      if (busy()) return;
      const page = new DOMParser().parseFromString(text, "text/html");
      page.querySelectorAll("[data-live]").forEach(put);
      lost.hidden = true;
    } catch {
      lost.hidden = false;
    }
  };
  setInterval(look, 15000);
  document.addEventListener("visibilitychange", look);
})();
