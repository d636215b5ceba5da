"""Open the live page in Debian's Firefox: its script runs, a knob turns, the sentence follows.

    python tools/firefox.py

Drives the stock ``firefox-esr`` (``apt-get install firefox-esr``) by WebDriver BiDi over a
websocket, without a driver program; the websocket is tornado's, which notebooks bring along.
"""

from __future__ import annotations

import asyncio
import itertools
import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from tornado.websocket import WebSocketClientConnection, websocket_connect

import guitarnet as gn

PATIENCE = 60  # s
TURN = """() => {
  const knob = document.querySelector("input[type=range]");
  knob.value = 5;
  knob.dispatchEvent(new Event("input"));
  const sound = document.querySelector(".play").textContent;
  const text = [...document.querySelectorAll(".answer p")].map((p) => p.innerText).join(" ");
  return JSON.stringify([text, sound, document.querySelector(".curve").getAttribute("d").length]);
}"""


class Session:
    """Commands and answers, and what the page complains of meanwhile."""

    def __init__(self, socket: WebSocketClientConnection) -> None:
        self.socket = socket
        self.numbers = itertools.count(1)
        self.complaints: list[str] = []

    async def ask(self, method: str, **params: Any) -> Any:
        """Give the result of a command."""
        number = next(self.numbers)
        await self.socket.write_message(
            json.dumps({"id": number, "method": method, "params": params})
        )
        while True:
            said = await asyncio.wait_for(self.socket.read_message(), PATIENCE)
            if said is None:
                raise SystemExit("Firefox has closed the connection.")
            message = json.loads(said)
            if message.get("method") == "log.entryAdded":
                self.complaints.append(str(message["params"].get("text")))
            if message.get("id") == number:
                if message["type"] == "error":
                    raise SystemExit(f"{method}: {message['message']}")
                return message["result"]


async def visit(address: str, page: str) -> tuple[list[Any], str, list[str]]:
    """Open a page and turn its first knob to 5; what it says, the browser, and complaints."""
    session = Session(await websocket_connect(f"{address}/session"))
    opened = await session.ask("session.new", capabilities={})
    await session.ask("session.subscribe", events=["log.entryAdded"])
    context = (await session.ask("browsingContext.getTree"))["contexts"][0]["context"]
    await session.ask("browsingContext.navigate", context=context, url=page, wait="complete")
    found = await session.ask(
        "script.callFunction",
        functionDeclaration=TURN,
        target={"context": context},
        awaitPromise=False,
    )
    if found["type"] != "success":
        raise SystemExit(f"The script failed: {found['exceptionDetails']['text']}")
    version = opened["capabilities"]["browserVersion"]
    await session.ask("browser.close")
    return json.loads(found["result"]["value"]), version, session.complaints


def main() -> int:
    """Print what was seen; the exit code is 1 where it is not what Python says."""
    program = shutil.which("firefox-esr")
    if program is None:
        print("firefox-esr is not installed: apt-get install firefox-esr")
        return 1
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n")
    expected = " ".join(one.text for one in gn.explain(guitar, volume=[10, 5]).sentences)
    with tempfile.TemporaryDirectory() as folder:
        page = gn.live_page(guitar).save(Path(folder) / "page.html")
        command = [program, "--headless", "--no-remote", "--profile", folder]
        with subprocess.Popen(
            [*command, "--remote-debugging-port=0", "about:blank"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        ) as browser:
            try:
                assert browser.stderr is not None
                for line in browser.stderr:
                    if ready := re.search(r"WebDriver BiDi listening on (ws://\S+)", line):
                        break
                else:
                    print("Firefox has not started.")
                    return 1
                seen, version, complaints = asyncio.run(visit(ready[1], page.as_uri()))
            finally:
                browser.terminate()
    text, button, drawn = seen
    text = text.replace("\u00a0", " ").replace("\u2212", "-").replace("treble (3 kHz)", "3 kHz")
    print(f"Firefox {version}: {text}")
    right = text == expected and button == "Play" and drawn > 1000 and not complaints
    if not right:
        print("expected:", expected, *complaints, sep="\n")
    return 0 if right else 1


if __name__ == "__main__":
    sys.exit(main())
