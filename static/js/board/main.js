// The board: cards that are dragged or carried by the keyboard. The server judges every move; this only asks.
import { listenToDragging } from "./drag.js";
import { listenToKeys } from "./keys.js";
import { listenToAnswers } from "./answers.js";

listenToDragging(document);
listenToKeys(document);
listenToAnswers(document);
