// From a page of a session to the guide, where Numbertaker was started again and has no session.

const ANSWER_MS = 900;

/** Load the page anew where the service says that it has none; whatever else it says, nothing happens. */
export async function toGuide() {
  try {
    const response = await fetch("api/folder", { signal: AbortSignal.timeout(ANSWER_MS) });
    if (response.ok && (await response.json()).state !== "session") location.reload();
  } catch {
    // it is not reached: the stream is sought all the same
  }
}
