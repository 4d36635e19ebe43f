// Shows news as it comes. Without it every page works all the same, and is read anew by hand.
"use strict";
(() => {
  const news = new EventSource("/live");
  let busy = false, again = false;
  const refresh = async () => {
    if (busy) { again = true; return; }
    busy = true;
    try {
      const answer = await fetch(location.href, { headers: { "x-by-page": "1" } });
      if (answer.redirected || answer.status === 401) { news.close(); location.reload(); return; }
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById("live"), shown = document.getElementById("live");
      if (fresh && shown && fresh.innerHTML !== shown.innerHTML) {
        const held = document.activeElement;
        const focused = held && shown.contains(held) ? held.id : "";
        shown.replaceWith(fresh);
        if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
      }
    } catch { /* The next news tries again. */ }
    busy = false;
    if (again) { again = false; refresh(); }
  };
  news.addEventListener("news", refresh);
  news.addEventListener("over", () => { news.close(); location.reload(); });
})();
