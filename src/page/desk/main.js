// Lays the desk: the rooms are made once and listen to the bench.

import { bench } from "./bench/bench.js";
import { Card } from "./card/card.js";
import { Motions } from "./move/motions.js";
import { head, shortcuts } from "./paper/head.js";
import { lightAtStart } from "./paper/light.js";
import { printing } from "./paper/printed.js";
import { sayFault } from "./paper/say.js";
import { Hands } from "./see/hands.js";
import { Stage } from "./see/stage.js";
import { stageTools } from "./see/tools.js";

lightAtStart();
const stage = new Stage(document.getElementById("views"));
new Hands(stage);
stageTools(stage);
new Motions(document.getElementById("motions"), stage);
head(document.getElementById("head"));
new Card(document.getElementById("card"), stage);
shortcuts();
printing(stage);
bench.start().catch(sayFault);

// For a tablet beside the machine: the screen stays awake while the page is open, where the browser allows it.
const awake = () => document.visibilityState === "visible" && navigator.wakeLock?.request("screen").catch(() => {});
document.addEventListener("visibilitychange", awake);
awake();
