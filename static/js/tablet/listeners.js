// Who wants to hear of what; and the other pages of this tablet, which hear of it too.

export class Listeners {
  #heard = new Map();

  /** @param {"status"|"visit"|"update"} name @param {(news: *) => void} listener @returns {() => void} takes it off again */
  on(name, listener) {
    if (!this.#heard.has(name)) this.#heard.set(name, new Set());
    this.#heard.get(name).add(listener);
    return () => this.#heard.get(name).delete(listener);
  }

  tell(name, news) {
    for (const listener of this.#heard.get(name) ?? []) listener(news);
  }
}

/** @param {(news: object) => void} onNews from another page of this tablet @returns {(news: object) => void} */
export function otherPages(onNews) {
  if (!globalThis.BroadcastChannel) return () => {};
  const channel = new BroadcastChannel("tablet");
  channel.onmessage = ({ data }) => onNews(data);
  return (news) => channel.postMessage(news);
}
