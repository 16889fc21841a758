// On the page that stands in while there is no contact: says when the shop told something last, and goes on
// when it is back.
(() => {
  const again = document.getElementById("again");
  again.href = location.href;
  let told = null;
  try {
    told = localStorage.getItem("told"); // an instant as the shop writes it, in its own time
  } catch {} // nothing may be kept here
  if (told) {
    const minutes = Math.max(0, Math.round((Date.now() - Date.parse(told)) / 60000));
    const ago = minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
    document.getElementById("last").prepend(`It was last told here at ${told.slice(11, 19)} on ${told.slice(0, 10)}, shop time: ${ago} ago. `);
  }
  setInterval(async () => {
    try {
      if ((await fetch(location.href, { method: "HEAD" })).ok) location.reload();
    } catch {} // still away
  }, 5000);
})();
