"use strict";
// What every page with a script shares: elements, and how it fits into what carries it.

const SVG = "http://www.w3.org/2000/svg";

function element(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

/** An element with attributes and children; text among them is only text. */
function html(name, attributes, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

/** What Python gave to the page. */
const pageData = () => JSON.parse(document.getElementById("data").textContent);

/** What is shown where no script runs; taken away by the script that has come to its end. */
function dropStill() {
  document.querySelector(".without")?.remove();
}

/** A frame that carries the page grows with it. */
function growFrame() {
  const carrier = window.frameElement;
  if (!carrier) return;
  document.documentElement.classList.add("framed");
  new ResizeObserver(() => {
    carrier.style.height = `${Math.ceil(document.documentElement.offsetHeight)}px`;
  }).observe(document.body);
}
