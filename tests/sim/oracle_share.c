/* SPDX-License-Identifier: Apache-2.0 */
/* The rules on a phone that two clients share: each has a letter there, which texts to one of them begin with, and answers. */
#include <string.h>

#include "tests/sim/oracle_inside.h"

/* The letter in "R: Withy Lane: time for ...", or 0. */
static char letter_before(const char *text)
{
    return g_ascii_isupper(text[0]) && text[1] == ':' && text[2] == ' ' ? text[0] : '\0';
}

static void broken(Oracle *oracle, const Sent *sent, const char *rule, const char *why)
{
    trace_break(oracle->trace, rule, "%s %s to client %s, '%s': %s", sent->kind, sent->id,
                sent->client, sent->text, why);
}

void oracle_judge_letter(Oracle *oracle, const Sent *sent, const Written *written)
{
    static const char *const FOR_ALL[] = {"safety", "stopped", "help", "welcome", "goodbye", NULL};
    char letter = sent->to_client ? letter_before(sent->text) : '\0';

    if (letter == '\0') return;
    g_autoptr(GPtrArray) clients = oracle_clients_at(oracle, written->to);
    g_autofree char *key = g_strdup_printf("%c %s", letter, written->to);
    const char *before = g_hash_table_lookup(oracle->letters, key);
    if (written->mail || clients->len < 2)
        broken(oracle, sent, "a letter where a phone is shared", "it has one and is not shared");
    if (g_strv_contains(FOR_ALL, sent->kind))
        broken(oracle, sent, "what concerns all bears no letter", "it has one");
    if (before != NULL && strcmp(before, sent->client) != 0)
        broken(oracle, sent, "a letter is one client's", before);
    g_hash_table_replace(oracle->letters, g_steal_pointer(&key), g_strdup(sent->client));
}

/* Is it an answer as the texts ask for one? */
static bool is_answer(const Phrase *phrase)
{
    return phrase->says == SAYS_DONE || phrase->says == SAYS_NOT || phrase->says == SAYS_PARTLY ||
           phrase->says == SAYS_PAIN || phrase->says == SAYS_NUMBER;
}

const Phrase *oracle_phrase(const ModelReply *reply)
{
    const char *text = reply->text;

    if (text == NULL) return NULL;
    return phrase_of(g_ascii_isupper(text[0]) && text[1] == ' ' ? text + 2 : text);
}

void oracle_judge_sharer(Oracle *oracle, const ModelReply *reply, const Phrase *phrase)
{
    bool lettered = reply->text != NULL && g_ascii_isupper(reply->text[0]) && reply->text[1] == ' ';

    if (!lettered || phrase == NULL || !is_answer(phrase)) return;
    g_autofree char *key = g_strdup_printf("%c %s", reply->text[0], reply->from);
    const char *owner = g_hash_table_lookup(oracle->letters, key);
    const ModelClient *client = owner != NULL ? model_client(oracle->model, owner) : NULL;
    if (client == NULL || model_bar(client, "end", INT64_MAX) != NULL) return;
    if (g_strcmp0(reply->client, owner) != 0)
        trace_break(oracle->trace, "an answer is whose letter it begins with",
                    "'%s' from %s is of %s, not of %s", reply->text, reply->from,
                    reply->client != NULL ? reply->client : "nobody", owner);
}
