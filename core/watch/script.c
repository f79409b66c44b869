/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/script.h"

#include <glib.h>
#include <string.h>

#define LINES_MOST 7
#define NO_STRETCH "Please do not stretch until a clinician has said so."
#define NERVES "Any numbness, tingling, weakness, or trouble with bladder or bowel?"

typedef struct {
    const char *why;
    const char *lines[LINES_MOST];
} Script;

/* The first stands for every kind that has none. */
static const Script SCRIPTS[] = {
    {"pain",
     {"Where is it, and what were you doing when it came?",
      "How strong is it now, from 0 to 10? At night, at rest?", NERVES, "Any fall or knock?",
      NO_STRETCH}},
    {"session",
     {"Did you do your stretches today: all, some, or none?",
      "How strong was the pull, from 0 to 10?", "Any pain, from 0 to 10? Where?",
      "Anything new since we last spoke: a fall, numbness, a swollen calf, chest pain, trouble "
      "with "
      "the bladder?"}},
    {"urgent",
     {"Is somebody with you?",
      "If it is still so: ring the emergency number now. I stay on the line until you have.",
      "Please do not stretch."}},
    {"missed-run",
     {"How are you? Is anything in the way of the stretches?", "Any pain or worry about them?",
      "Would another time of day suit better?"}},
    {"fall",
     {"Are you hurt? Did you hit your head? Are you on blood thinners?",
      "Can you stand and walk as before?", "Any pain in back, hip or wrist?", NO_STRETCH}},
    {"clot",
     {"Is the calf warm, swollen, red or sore? One side only?",
      "Any chest pain or shortness of breath? Then ring the emergency number now.",
      "Please do not stretch or rub it; it must be looked at today."}},
    {"height-loss",
     {"Any new pain in the back, or one that came with a cough, a lift or a stumble?", NERVES,
      "Was it measured without shoes, in the morning, by the same measure?", NO_STRETCH}},
    {"stopped",
     {"You asked for no more messages, and none will come.",
      "Is there anything about the stretches that we should know?",
      "Would a call now and then suit better?"}},
    {"suspended",
     {"Read the reply first. The client, or somebody near, may have died, or somebody else may "
      "have "
      "this number.",
      "Who am I speaking with? Say nothing about the client until you know.",
      "Of a death: we are very sorry, and no more messages will come. Ask about no stretches.",
      "Of a wrong number: we are sorry, and will not write again."}},
    {"consent",
     {"We have not heard from you for some time. How are you?",
      "Would you like the messages to go on, and is this still the right way?",
      "Any pain or worry about the stretches?"}},
    {"unread",
     {"Read the reply first. We have your message, and would like to be sure what it says.",
      "Any pain, from 0 to 10? Where?", NERVES}},
    {"undeliverable",
     {"Is the number or address still right?", "Which way would you like to hear from us?"}},
};

const char *const *call_script(const char *why)
{
    static const char *const NOW_SIGNS[] = {"heart", "stroke", "cauda", "crisis", NULL};

    if (g_strv_contains(NOW_SIGNS, why)) why = "urgent";
    for (size_t i = 0; i < G_N_ELEMENTS(SCRIPTS); i++)
        if (strcmp(SCRIPTS[i].why, why) == 0) return SCRIPTS[i].lines;
    return SCRIPTS[0].lines;
}
