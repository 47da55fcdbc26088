// What people call rungs and shadings, from the ladders of the service.
import type { Service } from "./client";
import type { Rung } from "./gen/nextrung/v1/ladder_pb";
import { sure } from "./refusal";

/** The names of everything the ladders have. */
export class Catalogue {
  readonly #rungs = new Map<string, Rung>();
  readonly #shadings = new Map<string, string>();

  /** Asks for every page of the ladders. */
  static async of(service: Service): Promise<Catalogue> {
    const catalogue = new Catalogue();
    let pageToken = "";
    do {
      const page = await sure(() => service.ladders.listLadders({ pageSize: 1000, pageToken }));
      for (const ladder of page.ladders) {
        for (const rung of ladder.rungs) catalogue.#rungs.set(rung.name, rung);
        for (const one of ladder.shadings) catalogue.#shadings.set(`${ladder.name}/${one.shadingId}`, one.displayName);
      }
      pageToken = page.nextPageToken;
    } while (pageToken !== "");
    return catalogue;
  }

  /** A rung with its shadings and its load, as people say it. */
  title(rung: string, shadings: string[], loadKg: number): string {
    const ladder = rung.split("/rungs/")[0];
    const parts = [
      this.#rungs.get(rung)?.displayName ?? rung,
      ...shadings.map((id) => (this.#shadings.get(`${ladder}/${id}`) ?? id).toLowerCase()),
    ];
    if (loadKg !== 0) parts.push(`${loadKg > 0 ? "+" : "−"}${Math.abs(loadKg)} kg`);
    return parts.join(", ");
  }

  /** All rungs. */
  rungs(): Iterable<Rung> {
    return this.#rungs.values();
  }
}
