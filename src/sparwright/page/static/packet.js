// The packet's line in the head of the page: made when asked for, from the whole plan, and opened as PDF.

import { make, say } from "./dom.js";

/** act.pack() makes the packet. */
export class Packet {
  constructor(host, act) {
    this.ready = false;
    this.button = make("button", { type: "button", "aria-disabled": "true", onclick: () => this.ready && act.pack() }, "Make the packet");
    this.link = make("a", { href: "packet.pdf", target: "_blank", hidden: true }, "Open its sheets (PDF)");
    this.told = make("span", { role: "status" });
    host.append(this.told, this.button, this.link);
  }

  /** Show a state. whole: whether the whole plan of the text as it is now is there. */
  show(state, whole) {
    const { running, message, as_of, folder, files } = state.packet;
    this.ready = whole && !running;
    this.button.setAttribute("aria-disabled", String(!this.ready));
    say(this.button, as_of === null ? "Make the packet" : "Make the packet again");
    this.link.hidden = as_of === null;
    this.told.className = running ? "working" : message ? "wrong" : "";
    say(this.told, running ? "Making the packet" : (message ?? this.words(state, whole, as_of, folder, files)));
  }

  words(state, whole, as_of, folder, files) {
    if (as_of === state.digest) return `The packet is in the folder ${folder} beside the job: ${files} files.`;
    if (as_of !== null) return `The packet in the folder ${folder} is of before the last change.${whole ? "" : " A new one needs the whole plan."}`;
    if (!whole) return "The packet, sheets and programs for the machine, is made from the whole plan.";
    const never = state.bands.some((band) => band.verdict === "no-go");
    return never ? "A packet can be made, to read only: the plan has a no-go, so do not cut from it." : "All is there for the packet: sheets and programs for the machine.";
  }
}
