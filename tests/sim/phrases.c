/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/phrases.h"

#include <string.h>

static const Phrase PHRASES[] = {
    {SAYS_DONE, "D 4 P0", NULL, 0},
    {SAYS_DONE, "D 3 P1", NULL, 1},
    {SAYS_DONE, "d 5 p0", NULL, 0},
    {SAYS_DONE, "Done, stretch 4, no pain", NULL, 0},
    {SAYS_DONE, "did them, 3, no pain", NULL, 0},
    {SAYS_NOT, "N", NULL, 0},
    {SAYS_NOT, "n p0", NULL, 0},
    {SAYS_NOT, "not today", NULL, 0},
    {SAYS_PARTLY, "half of them, 5, pain 1", NULL, 1},
    {SAYS_PAIN, "D 4 P5", NULL, 5},
    {SAYS_PAIN, "D 4 P6", NULL, 6},
    {SAYS_PAIN, "D 5 P8", NULL, 8},
    {SAYS_PAIN, "P9", NULL, 9},
    {SAYS_SOME, "it hurts", NULL, 0},
    {SAYS_SOME, "my calf aches", NULL, 0},
    {SAYS_NUMBER, "8", NULL, 0},
    {SAYS_NUMBER, "9", NULL, 0},
    {SAYS_WARNING, "I have chest pain", "heart", 0},
    {SAYS_WARNING, "my face is drooping and my speech is slurred", "stroke", 0},
    {SAYS_WARNING, "I cannot pass water since this morning", "cauda", 0},
    {SAYS_WARNING, "I want to die", "crisis", 0},
    {SAYS_WARNING, "my calf is swollen and hot", "clot", 0},
    {SAYS_WARNING, "sudden pain in my mid back", "fracture", 0},
    {SAYS_WARNING, "I have tingling in my foot", "nerve", 0},
    {SAYS_WARNING, "I fell in the kitchen", "fall", 0},
    {SAYS_STOP, "STOP", NULL, 0},
    {SAYS_STOP, "stop", NULL, 0},
    {SAYS_STOP, "please stop texting me", NULL, 0},
    {SAYS_START, "START", NULL, 0},
    {SAYS_START, "start", NULL, 0},
    {SAYS_HELP, "HELP", NULL, 0},
    {SAYS_SUSPEND, "had to go to hospital yesterday", NULL, 0},
    {SAYS_DEATH, "My mother died on Sunday", NULL, 0},
    {SAYS_DEATH, "She has died. Please stop the texts", NULL, 0},
    {SAYS_WRONG, "Wrong number", NULL, 0},
    {SAYS_WRONG, "you have the wrong person", NULL, 0},
    {SAYS_ODD, "when is my appointment?", NULL, 0},
    {SAYS_ODD, "thanks dear", NULL, 0},
    {SAYS_ODD, "\360\237\221\215", NULL, 0},
    {SAYS_ODD, "blah wibble", NULL, 0},
    {SAYS_ODD, "who is this", NULL, 0},
    {SAYS_ODD, "   ", NULL, 0},
};

const Phrase *phrase_draw(Random *random, Says says)
{
    int n = 0;

    for (size_t i = 0; i < G_N_ELEMENTS(PHRASES); i++)
        n += PHRASES[i].says == says;
    g_assert(n > 0);
    int which = (int)random_below(random, "phrase", (uint64_t)n);
    for (size_t i = 0;; i++)
        if (PHRASES[i].says == says && which-- == 0) return &PHRASES[i];
}

const Phrase *phrase_of(const char *text)
{
    for (size_t i = 0; i < G_N_ELEMENTS(PHRASES); i++)
        if (strcmp(PHRASES[i].text, text) == 0) return &PHRASES[i];
    return NULL;
}

bool phrase_is_now(const Phrase *phrase)
{
    static const char *const NOW[] = {"heart", "stroke", "cauda", "crisis", NULL};

    return phrase->warning != NULL && g_strv_contains(NOW, phrase->warning);
}

const char *says_name(Says says)
{
    static const char *const NAMES[] = {"done",    "not",     "partly", "pain",  "some",
                                        "number",  "warning", "stop",   "start", "help",
                                        "suspend", "death",   "wrong",  "odd",   "take"};

    return NAMES[says];
}
