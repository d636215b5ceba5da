// A screen reader hears which pages a small arrow of the side bar opens.
document.addEventListener("DOMContentLoaded", () => {
  for (const arrow of document.querySelectorAll("summary:not([aria-label])")) {
    const link = arrow.closest("li")?.querySelector("a");
    if (link && !arrow.textContent.trim()) {
      arrow.setAttribute("aria-label", `pages under ${link.textContent.trim()}`);
    }
  }
});
