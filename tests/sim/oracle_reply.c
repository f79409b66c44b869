/* SPDX-License-Identifier: Apache-2.0 */
/* The rules on what a reply in plain words must lead to. */
#include <string.h>

#include "tests/sim/oracle_inside.h"
#include "tests/sim/phrases.h"

static void broken(Oracle *oracle, const char *rule, const ModelReply *reply, const char *client)
{
    trace_break(oracle->trace, rule, "'%s' from %s, client %s, %s", reply->text, reply->from,
                client != NULL ? client : "none", reply->state);
}

/* An alert of that kind and class (NULL: any) that is open, or that this reply opened. */
static bool alert_stands(const Oracle *oracle, const char *client, const char *kind,
                         const char *class, const ModelReply *reply)
{
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, oracle->model->alerts);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        const ModelAlert *alert = value;
        if (g_strcmp0(alert->client, client) == 0 && g_strcmp0(alert->kind, kind) == 0 &&
            (class == NULL || g_strcmp0(alert->class, class) == 0) &&
            (!alert->closed || g_strcmp0(alert->cause, reply->id) == 0))
            return true;
    }
    return false;
}

/* Had the client ended the texts when it was read? A START behind it may have been read in the same step. */
static bool was_stopped(const ModelClient *client, const ModelReply *reply)
{
    for (guint i = 0; i < client->bars->len; i++) {
        const ModelBar *bar = client->bars->pdata[i];
        if (strcmp(bar->kind, "stop") == 0 &&
            (bar->lifted_as == 0 || bar->lifted_as > reply->told_as))
            return true;
    }
    return false;
}

/* "A missed warning sign is the worst outcome of all"; "signs and pain set a hold". */
static void a_sign_opens_an_alert_and_holds(Oracle *oracle, const ModelReply *reply,
                                            const Phrase *phrase, const ModelClient *client)
{
    const char *class = phrase_is_now(phrase) ? "now" : "today";

    if (!alert_stands(oracle, client->id, phrase->warning, class, reply))
        broken(oracle, "a warning sign opens an alert", reply, client->id);
    if (model_bar(client, "hold", INT64_MAX) == NULL)
        broken(oracle, "a warning sign sets a hold", reply, client->id);
    if (!was_stopped(client, reply)) /* who had stopped gets one for that stop, and no more */
        g_hash_table_insert(oracle->warned, g_strdup(reply->id), g_strdup(client->id));
}

/* "now: pain of pain_now and over"; "today: pain 2 over the client's usual and at least pain_today";
 * "a bare 7 or more counts as pain until the client says 'stretch'". */
static void pain_opens_an_alert_and_holds(Oracle *oracle, const ModelReply *reply, int pain,
                                          const ModelClient *client)
{
    const char *class = pain >= 7 ? "now" : NULL;

    if (pain < 4 || pain < client->usual_pain + 2) return;
    if (!alert_stands(oracle, client->id, "pain", class, reply))
        broken(oracle, "pain opens an alert", reply, client->id);
    if (model_bar(client, "hold", INT64_MAX) == NULL)
        broken(oracle, "pain sets a hold", reply, client->id);
}

/* Did the same client say stop or start again later? */
static bool is_overtaken(const Oracle *oracle, const ModelReply *reply)
{
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, oracle->model->replies);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        const ModelReply *other = value;
        const Phrase *phrase = oracle_phrase(other);
        if (other->read_seq > reply->read_seq && g_strcmp0(other->client, reply->client) == 0 &&
            phrase != NULL && (phrase->says == SAYS_STOP || phrase->says == SAYS_START))
            return true;
    }
    return false;
}

/* Has somebody who may not be the client written from there, of a death or that it is a wrong number? Then START goes to a person. */
static bool was_elsewhere(const Oracle *oracle, const ModelReply *reply)
{
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, oracle->model->replies);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        const ModelReply *other = value;
        const Phrase *phrase = other->text != NULL ? phrase_of(other->text) : NULL;
        if (other->read_seq < reply->read_seq && g_strcmp0(other->from, reply->from) == 0 &&
            phrase != NULL && (phrase->says == SAYS_DEATH || phrase->says == SAYS_WRONG))
            return true;
    }
    return false;
}

/* "Stop, start, help at once." */
static void stop_and_start_are_obeyed(Oracle *oracle, const ModelReply *reply, const Phrase *phrase,
                                      const ModelClient *client)
{
    bool stopped = model_bar(client, "stop", INT64_MAX) != NULL;

    if (is_overtaken(oracle, reply)) return;
    if (phrase->says == SAYS_STOP && !stopped)
        broken(oracle, "stop is obeyed at once", reply, client->id);
    if (phrase->says == SAYS_START && stopped && !was_elsewhere(oracle, reply))
        broken(oracle, "start is obeyed at once", reply, client->id);
}

/* "Words of death, hospital or illness suspend messages at once, until a person settles them." */
static void words_of_illness_suspend(Oracle *oracle, const ModelReply *reply,
                                     const ModelClient *client)
{
    if (strcmp(reply->state, "settled") == 0) return;
    if (model_bar(client, "suspend", INT64_MAX) == NULL)
        broken(oracle, "words of illness suspend messages", reply, client->id);
    if (strcmp(reply->state, "unread") != 0)
        broken(oracle, "words of illness go to a person", reply, client->id);
}

/* "Words of a death end everything without any automatic answer", and a wrong number does; a clinician hears that day. */
static void a_clinician_hears_of_a_death(Oracle *oracle, const ModelReply *reply,
                                         const ModelClient *client)
{
    words_of_illness_suspend(oracle, reply, client);
    if (model_bar(client, "end", INT64_MAX) == NULL &&
        !alert_stands(oracle, client->id, "suspended", "today", reply))
        broken(oracle, "a clinician hears of a death", reply, client->id);
}

/* Pain with its number answers the question; pain without one is asked back. */
static void note_pain(Oracle *oracle, const ModelReply *reply, const Phrase *phrase)
{
    bool number = phrase != NULL ? phrase->says == SAYS_PAIN || phrase->says == SAYS_NUMBER ||
                                       phrase->says == SAYS_DONE || phrase->says == SAYS_NOT ||
                                       phrase->says == SAYS_PARTLY
                                 : true;

    for (guint i = oracle->some->len; number && i-- > 0;)
        if (strcmp(((SomePain *)oracle->some->pdata[i])->client, reply->client) == 0)
            g_ptr_array_remove_index(oracle->some, i);
    if (phrase == NULL || phrase->says != SAYS_SOME || strcmp(reply->state, "read") != 0) return;
    SomePain *some = g_new0(SomePain, 1);
    *some = (SomePain){
        .client = g_strdup(reply->client), .at_ms = reply->arrived_ms, .seq = reply->read_seq};
    g_ptr_array_add(oracle->some, some);
}

static void judge_of(Oracle *oracle, const ModelReply *reply, const Phrase *phrase,
                     const ModelClient *client)
{
    switch (phrase->says) {
    case SAYS_WARNING: a_sign_opens_an_alert_and_holds(oracle, reply, phrase, client); break;
    case SAYS_PAIN: pain_opens_an_alert_and_holds(oracle, reply, phrase->pain, client); break;
    case SAYS_NUMBER: pain_opens_an_alert_and_holds(oracle, reply, 7, client); break;
    case SAYS_STOP:
    case SAYS_START: stop_and_start_are_obeyed(oracle, reply, phrase, client); break;
    case SAYS_SUSPEND: words_of_illness_suspend(oracle, reply, client); break;
    case SAYS_DEATH:
    case SAYS_WRONG: a_clinician_hears_of_a_death(oracle, reply, client); break;
    default: break;
    }
}

void oracle_judge_reply(Oracle *oracle, const ModelReply *reply)
{
    const Phrase *phrase = oracle_phrase(reply);
    const ModelClient *client = model_client(oracle->model, reply->client);

    oracle_judge_sharer(oracle, reply, phrase);
    if (client != NULL) {
        if (phrase != NULL) judge_of(oracle, reply, phrase, client);
        note_pain(oracle, reply, phrase);
        return;
    }
    if (phrase == NULL || phrase->says != SAYS_WARNING) return;
    /* "A number that two clients share": a person decides, and no sign is left lying. */
    g_autoptr(GPtrArray) clients = oracle_clients_at(oracle, reply->from);
    for (guint i = 0; i < clients->len; i++)
        a_sign_opens_an_alert_and_holds(oracle, reply, phrase, clients->pdata[i]);
    if (clients->len == 0 && !alert_stands(oracle, "clinic", phrase->warning, NULL, reply))
        broken(oracle, "a warning sign opens an alert", reply, NULL);
}
