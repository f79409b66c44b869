/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/tell.h"

#include <string.h>

#include "daemon/jobs/post.h"
#include "daemon/jobs/words.h"

void tell_welcome(Job *job, const Person *person)
{
    g_autofree char *purpose = g_strconcat("welcome/", person->id, NULL);
    Worded words;

    if (person->channel == CHANNEL_PHONE) return;
    words_welcome(job, person, &words);
    g_free(post_client(job, person,
                       &(Post){.kind = MESSAGE_WELCOME,
                               .purpose = purpose,
                               .text = words.text,
                               .subject = words.subject,
                               .end_ms = job->now_ms + 2 * DAY_MS}));
    worded_clear(&words);
}

void tell_moved(Job *job, const Person *person, const Stage *from, const Stage *to, bool onwards,
                int64_t at_ms)
{
    g_autofree char *purpose =
        g_strdup_printf("moved/%s/%s/%" G_GINT64_FORMAT, person->id, to->key, at_ms);
    Worded words;

    if (!onwards && person->held) return; /* closing the alert tells it */
    words_moved(job, person, from, to, onwards, &words);
    g_free(post_client(job, person,
                       &(Post){.kind = MESSAGE_UPDATE,
                               .purpose = purpose,
                               .text = words.text,
                               .subject = words.subject,
                               .end_ms = at_ms + DAY_MS}));
    worded_clear(&words);
}

void tell_goodbye(Job *job, const Person *person, const char *why, int64_t at_ms)
{
    Worded words;

    /* Nobody writes to the family of someone who died. */
    if (strcmp(why, "died") == 0 || person->programme == NULL || person->stopped) return;
    g_autofree char *purpose = g_strdup_printf("goodbye/%s/%s", person->id, person->programme);
    words_key(job, person, person->channel, "goodbye", &words);
    g_free(post_client(job, person,
                       &(Post){.kind = MESSAGE_GOODBYE,
                               .purpose = purpose,
                               .text = words.text,
                               .subject = words.subject,
                               .end_ms = at_ms + DAY_MS}));
    worded_clear(&words);
}
