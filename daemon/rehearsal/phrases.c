/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/phrases.h"

#include <string.h>

enum { WAYS_MAX = 14 };

typedef const char *const Ways[PHRASES][WAYS_MAX];

static Ways ENGLISH = {
    [PHRASE_DONE] = {"D {s} P0", "d {s} p0", "Done {s} P0", "Done, {s}, no pain",
                     "All done. Stretch {s}, pain 0",
                     "Did them after breakfast, about a {s}. No pain.",
                     "Yes, {s} out of 10, no pain", "Done both sides. Stretch {s}, no pain at all",
                     "D {s} P 0", "done {s}/10 no pain",
                     "Good morning, all done, a {s} today and no pain"},
    [PHRASE_DONE_PAIN] = {"D {s} P{p}", "Done {s} pain {p}", "Done. Stretch {s} and pain {p}",
                          "Yes did them. {s}, pain {p}", "All done, stretch {s}, pain {p}/10",
                          "d {s} p {p}", "Done, a {s}. Pain {p}"},
    [PHRASE_DONE_SOME] = {"Done, {s}, but the back of my knee was sore afterwards",
                          "Did them. {s}. Bit of an ache in the hip."},
    [PHRASE_PARTLY] = {"Only did one side today, stretch {s}, P0", "Did half of them, {s} P0",
                       "Only managed the left one. {s}, no pain"},
    [PHRASE_NOT] = {"N", "n", "No", "Not today, sorry", "No, too tired today", "N, family visiting",
                    "Forgot, sorry", "No. Resting today"},
    [PHRASE_PAIN] = {"P {p}", "P{p}", "Pain {p}", "about a {p}"},
    [PHRASE_STRETCH] = {"STRETCH {s}", "stretch {s}", "Stretch, {s}"},
    [PHRASE_LATE] = {"Sorry, yes. D {s} P0", "Done, just forgot to say. {s}, no pain",
                     "D {s} P0, sorry for the delay"},
    [PHRASE_LETTER] = {"LETTER {l}", "Letter {l}", "letter {l} please"},
    [PHRASE_THANKS] = {"Thank you", "Thanks", "Thank you, will do"},
};

static Ways SPANISH = {
    [PHRASE_DONE] = {"SI {s} 0", "Si {s} 0", "Hecho, {s}, sin dolor",
                     "Sí, estiramiento {s} y dolor 0", "Ya está hecho. {s}, nada de dolor",
                     "Hecho. Un {s} y sin dolor, gracias"},
    [PHRASE_DONE_PAIN] = {"SI {s} {p}", "Hecho, estiramiento {s}, dolor {p}",
                          "Sí. {s} y dolor {p}"},
    [PHRASE_DONE_SOME] = {"Hecho, {s}, pero me duele un poco la rodilla"},
    [PHRASE_PARTLY] = {"Solo hice un lado, {s}, sin dolor", "Hice la mitad. {s}, dolor 0"},
    [PHRASE_NOT] = {"NO", "No", "Hoy no", "No, hoy estoy cansada"},
    [PHRASE_PAIN] = {"DOLOR {p}", "dolor {p}"},
    [PHRASE_STRETCH] = {"ESTIRAMIENTO {s}", "estiramiento {s}"},
    [PHRASE_LATE] = {"Perdón, sí. {s} y sin dolor", "Hecho, {s}, sin dolor. Se me olvidó avisar"},
    [PHRASE_LETTER] = {"LETRA {l}", "letra {l}"},
    [PHRASE_THANKS] = {"Gracias", "Muchas gracias"},
};

static Ways FRENCH = {
    [PHRASE_DONE] = {"OUI {s} 0", "Oui {s} 0", "Fait, {s}, pas de douleur",
                     "Oui, étirement {s} et douleur 0", "C'est fait. {s}, aucune douleur",
                     "Fait ce matin, un {s}, sans douleur"},
    [PHRASE_DONE_PAIN] = {"OUI {s} {p}", "Fait, étirement {s}, douleur {p}",
                          "C'est fait. {s}, douleur {p}"},
    [PHRASE_DONE_SOME] = {"Fait, {s}, mais j'ai un peu mal au genou"},
    [PHRASE_PARTLY] = {"Un seul côté aujourd'hui, {s}, pas de douleur",
                       "J'en ai fait la moitié. {s}, douleur 0"},
    [PHRASE_NOT] = {"NON", "Non", "Pas aujourd'hui", "Non, trop fatiguée aujourd'hui"},
    [PHRASE_PAIN] = {"DOULEUR {p}", "douleur {p}"},
    [PHRASE_STRETCH] = {"ETIREMENT {s}", "étirement {s}"},
    [PHRASE_LATE] = {"Pardon, oui. {s} et pas de douleur",
                     "C'est fait, {s}, pas de douleur. J'avais oublié de répondre"},
    [PHRASE_LETTER] = {"LETTRE {l}", "lettre {l}"},
    [PHRASE_THANKS] = {"Merci", "Merci beaucoup"},
};

static guint64 count(const char *const ways[WAYS_MAX])
{
    guint64 n = 0;

    while (n < WAYS_MAX && ways[n] != NULL)
        n++;
    g_assert(n > 0);
    return n;
}

const char *phrase(const char *language, Phrase what, guint64 pick)
{
    const char *const *ways = g_str_has_prefix(language, "es")   ? SPANISH[what]
                              : g_str_has_prefix(language, "fr") ? FRENCH[what]
                                                                 : ENGLISH[what];

    return ways[pick % count(ways)];
}

static void put(GString *text, const char *name, int value)
{
    g_autofree char *digits = g_strdup_printf("%d", value);

    g_string_replace(text, name, digits, 0);
}

char *phrase_fill(const char *template, int stretch, int pain)
{
    GString *text = g_string_new(template);

    put(text, "{s}", stretch);
    put(text, "{p}", pain);
    return g_string_free(text, FALSE);
}
