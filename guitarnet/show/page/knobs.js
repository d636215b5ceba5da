/** The live page in a notebook cell; its settings go to Python and come back from it. */
function render({ model, el }) {
  const frame = document.createElement("iframe");
  frame.title = model.get("_name");
  frame.style.cssText = "width:100%;height:700px;border:0";
  const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);
  let show = () => {};
  frame.addEventListener("load", () => {
    const root = frame.contentDocument.getElementById("live");
    if (!root || !root.live) return;
    show = () => {
      const wanted = model.get("_settings");
      if (!same(wanted, root.live.settings())) root.live.set(wanted);
    };
    show();
    root.addEventListener("settings", ({ detail }) => {
      if (same(detail, model.get("_settings"))) return;
      model.set("_settings", detail);
      model.save_changes();
    });
  });
  const follow = () => show();
  model.on("change:_settings", follow);
  frame.srcdoc = model.get("_page");
  el.append(frame);
  return () => model.off("change:_settings", follow);
}
export default { render };
