// Talking to the server: the state as it changes, changes to the job, and the pictures' data.

const base = new URL(".", document.baseURI);

/** Call `heard(state)` now and after every change. */
export function listen(heard, lost) {
  const events = new EventSource(new URL("events", base));
  events.onmessage = (event) => heard(JSON.parse(event.data));
  events.onerror = () => lost(events.readyState === EventSource.CLOSED);
  events.onopen = () => lost(null);
}

/** Ask for something: {ok: true, answer} with the new state, or {ok: false, message, state} where it was refused. */
export async function ask(what, body = {}) {
  const reply = await fetch(new URL(what, base), {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  });
  const kind = reply.headers.get("content-type") ?? "";
  if (!kind.includes("json")) return { ok: false, message: await reply.text() };
  const answer = await reply.json();
  return answer.refused ? { ok: false, message: answer.message, state: answer.state } : { ok: true, answer };
}

/** What the server has under a name, from JSON; null where there is nothing yet. */
export async function fetched(what) {
  const reply = await fetch(new URL(what, base));
  return reply.status === 200 ? reply.json() : null;
}

const TYPES = { float32: Float32Array, uint32: Uint32Array, uint8: Uint8Array };

/** A picture's data: {digest, meta, arrays: {name: typed array with its `shape`}}; null where it is not there yet. */
export async function pictureData(name) {
  const reply = await fetch(new URL(`picture/${name}`, base));
  if (reply.status !== 200) return null;
  const buffer = await reply.arrayBuffer();
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const arrays = {};
  for (const { name: key, type, shape, at } of head.arrays) {
    const count = shape.reduce((a, b) => a * b, 1);
    arrays[key] = Object.assign(new TYPES[type](buffer, 4 + length + at, count), { shape });
  }
  return { digest: reply.headers.get("x-digest"), meta: head.meta, arrays };
}
