// What is said of cards on this phone that are not of whoever is signed in.

import { t } from "../words.js";

/** How many cards of others wait, to somebody who is signed in. */
export const ofOthers = (n) =>
  n === 1
    ? t("1 card of somebody else waits on this phone. It is sent when its author signs in here.")
    : t("{n} cards of others wait on this phone. They are sent when their authors sign in here.", { n });

/** How many cards wait, to whoever is not signed in. */
export const ofSomebody = (n) =>
  n === 1 ? t("1 card waits on this phone") : t("{n} cards wait on this phone", { n });
