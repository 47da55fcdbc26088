// Elements of a page: text is always set as text, never as markup.

/** What an element may hold. */
type Part = Node | string | undefined;

/** A new element with a class (or none) and what it holds. */
export function element<Name extends keyof HTMLElementTagNameMap>(
  name: Name,
  kind: string,
  ...parts: Part[]
): HTMLElementTagNameMap[Name] {
  const made = document.createElement(name);
  if (kind !== "") made.className = kind;
  made.append(...parts.filter((part) => part !== undefined));
  return made;
}

/** The element of the page with this id. */
export function byId<Kind extends HTMLElement>(id: string, kind: new () => Kind): Kind {
  const found = document.getElementById(id);
  if (!(found instanceof kind)) throw new Error(`the page has no ${kind.name} #${id}`);
  return found;
}
