/* SPDX-License-Identifier: Apache-2.0 */
/* Commands about the clinic's replicas: which of them sends, and how they stand to one another. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/bundle.h"
#include "daemon/cli/show_value.h"

/* A difference that nobody need look after. */
#define CLOCK_APART_S 60

static void show_sender(const json_t *answer)
{
    const char *why = json_string_value(json_object_get(answer, "why"));
    int epoch = (int)json_integer_value(json_object_get(answer, "epoch"));

    if (why != NULL)
        printf("this replica sends nothing: %s\n", why);
    else if (epoch == 0)
        puts("this replica sends: it is the clinic's first, and nobody gave the duty to another");
    else
        printf("this replica sends, epoch %d, since %s, by %s\n", epoch, show_text(answer, "since"),
               show_text(answer, "by"));
}

static void show_lacking(int n, const char *whose)
{
    if (n > 0) printf("    %d %s of %s then\n", n, n == 1 ? "entry" : "entries", whose);
}

static void show_peer(const json_t *peer)
{
    const char *problem = json_string_value(json_object_get(peer, "problem"));
    const char *address = json_string_value(json_object_get(peer, "address"));
    const json_t *clock_ms = json_object_get(peer, "clock_ahead_ms");
    int there = (int)json_integer_value(json_object_get(peer, "lacks_there"));
    int here = (int)json_integer_value(json_object_get(peer, "lacks_here"));
    int apart_s = (int)(json_integer_value(clock_ms) / 1000);

    printf("  %s (%.8s)%s%s: ", show_text(peer, "name"), show_text(peer, "replica"),
           address != NULL ? " at " : ", calls this one", address != NULL ? address : "");
    if (json_string_value(json_object_get(peer, "cut")) != NULL) {
        printf("unpaired %s\n", show_text(peer, "cut"));
        return;
    }
    if (json_string_value(json_object_get(peer, "last")) == NULL)
        puts("not heard of yet");
    else
        printf("last heard of %s\n", show_text(peer, "last"));
    show_lacking(there, "ours had not reached it");
    show_lacking(here, "its had not reached us");
    if (apart_s < -CLOCK_APART_S || apart_s > CLOCK_APART_S)
        printf("    its clock was %d s %s ours: set the wrong one right\n", abs(apart_s),
               apart_s > 0 ? "ahead of" : "behind");
    if (problem != NULL) printf("    the last visit failed: %s\n", problem);
}

/* So much is lacking that people may wonder. */
#define FILLING_FROM 1000

/* A new replica says how far it is. */
static void show_filling(const json_t *answer)
{
    double here = (double)json_integer_value(json_object_get(answer, "entries"));
    double known = (double)json_integer_value(json_object_get(answer, "entries_known"));

    if (known - here < FILLING_FROM) return;
    printf("  filling: %.0f of %.0f entries are here (%.0f %%); what is here can be used, and what "
           "is entered goes out\n",
           here, known, floor(100 * here / known));
}

static void show_fetching(const json_t *fetching)
{
    double bytes = (double)json_integer_value(json_object_get(fetching, "bytes"));
    double of = (double)json_integer_value(json_object_get(fetching, "of"));
    const char *does = json_string_value(json_object_get(fetching, "does"));

    if (does == NULL) return;
    printf("  a snapshot of all entries from replica %.8s: ", show_text(fetching, "from"));
    if (strcmp(does, "fetching") == 0)
        printf("%.0f of %.0f MB are here (%.0f %%)\n", bytes / 1e6, of / 1e6,
               of > 0 ? floor(100 * bytes / of) : 0);
    else
        puts(strcmp(does, "asking") == 0         ? "it is being made there"
             : strcmp(does, "looking-over") == 0 ? "it is here, and each entry is verified"
                                                 : "it is being taken in; calls wait meanwhile");
}

/* What came as a snapshot is looked over. */
static void show_snapshot(const json_t *snapshot)
{
    static const struct {
        const char *state, *words;
    } STATES[] = {
        {"unproved", "that its tables are what the entries give is looked into now; until then "
                     "this\n  replica does not take the duty to send"},
        {"proved", "its tables are what the entries give"},
        {"made-anew", "its tables were not what the entries give; they were made anew here"},
        {"unsound", "it is damaged: stop osierd and run osier check"},
    };
    const char *state = json_string_value(json_object_get(snapshot, "state"));

    for (size_t i = 0; state != NULL && i < G_N_ELEMENTS(STATES); i++)
        if (strcmp(state, STATES[i].state) == 0)
            printf("  %.0f entries came as a snapshot from %s, %s:\n  %s\n",
                   (double)json_integer_value(json_object_get(snapshot, "events")),
                   show_text(snapshot, "from"), show_text(snapshot, "at"), STATES[i].words);
}

static void show_sync(const json_t *answer)
{
    const json_t *peers = json_object_get(answer, "peers");
    const char *listens = json_string_value(json_object_get(answer, "listens"));
    const char *twin = json_string_value(json_object_get(answer, "copy_of"));
    int conflicts = (int)json_integer_value(json_object_get(answer, "conflicts"));
    size_t i;
    json_t *peer;

    printf("replica %s (%.8s)%s%s\n  ", show_text(answer, "name"), show_text(answer, "replica"),
           listens != NULL ? ", listens on " : "", listens != NULL ? listens : "");
    show_sender(json_object_get(answer, "sender"));
    show_filling(answer);
    show_fetching(json_object_get(answer, "fetching"));
    show_snapshot(json_object_get(answer, "snapshot"));
    if (twin != NULL)
        printf("  this store was copied from replica %.8s and still has its key: osier sync unpair "
               "%.8s at the\n  peers, remove secrets/replica.* here, start osierd anew and pair\n",
               twin, show_text(answer, "replica"));
    if (json_array_size(peers) == 0) puts("  no other replica is paired with this one");
    json_array_foreach((json_t *)peers, i, peer)
    {
        show_peer(peer);
    }
    if (conflicts > 0)
        printf("  %d %s set differently by two people; see osier sync conflicts\n", conflicts,
               conflicts == 1 ? "field was" : "fields were");
}

static void show_pair(const json_t *answer)
{
    if (json_object_get(answer, "code") == NULL) {
        printf("paired with %s at %s; what each side lacks goes over now\n",
               show_text(answer, "name"), show_text(answer, "address"));
        return;
    }
    printf("%s\nOn the other replica: osier sync pair %s --with THIS-MACHINE:%s\n"
           "It is good once, for ten minutes and five tries.\n",
           show_text(answer, "code"), show_text(answer, "code"),
           strrchr(show_text(answer, "listens"), ':') != NULL
               ? strrchr(show_text(answer, "listens"), ':') + 1
               : "PORT");
}

static void show_unpaired(const json_t *answer)
{
    printf("%s is cut off: it may neither call nor be called. What it has, it keeps.\n",
           show_text(answer, "name"));
}

static void show_visited(const json_t *answer)
{
    (void)answer;
    puts("visited; each side has what the other had");
}

static void print_side(const char *label, const json_t *side)
{
    char *value = json_dumps(json_object_get(side, "value"), JSON_ENCODE_ANY);

    printf("    %s %s, by %s, %s\n", label, value != NULL ? value : "-", show_text(side, "by"),
           show_text(side, "at"));
    free(value);
}

static void show_conflicts(const json_t *answer)
{
    size_t i;
    json_t *conflict;

    if (json_array_size(answer) == 0) puts("nothing was set differently by two people");
    json_array_foreach((json_t *)answer, i, conflict)
    {
        printf("%s  %s: %s\n", show_text(conflict, "conflict"), show_text(conflict, "name"),
               show_text(conflict, "field"));
        print_side("counts:", json_object_get(conflict, "counts"));
        print_side("other: ", json_object_get(conflict, "other"));
    }
    if (json_array_size(answer) > 0)
        puts("settle one: osier sync settle ID --take counts|other --by NAME; where one id has "
             "several fields, with --field FIELD");
}

static void show_settled(const json_t *answer)
{
    printf("%s of %s is settled\n", show_text(answer, "field"), show_text(answer, "name"));
}

static const Field TAKE_FIELDS[] = {
    {"by", "by", FIELD_TEXT}, {"even-so", "even_so", FIELD_FLAG}, {NULL, NULL, FIELD_TEXT}};

static const Ask SENDER_ASKS[] = {
    {"show", "GET", "/sender", NULL, show_sender, false},
    {"take", "POST", "/sender", TAKE_FIELDS, show_sender, false},
};

static int run_sender(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_SENDER, SENDER_ASKS, G_N_ELEMENTS(SENDER_ASKS), argc, argv);
}

const Command COMMAND_SENDER = {
    .name = "sender",
    .summary = "tell or change which replica of the clinic sends",
    .usage = "show | take --by NAME [--even-so]",
    .help =
        "  osier sender show\n"
        "  osier sender take --by \"R. Okafor\"\n\n"
        "Exactly one replica plans, sends, receives and calls clinicians; every other records "
        "what is entered. take\n"
        "gives the duty to the replica that is asked, with the next epoch. The one that had it "
        "stops as soon as it\n"
        "hears; until then it sends as well, so switch it off first where that can be done. "
        "Refused while entries that\n"
        "another replica had are not here yet, since clients could be asked again: --even-so is "
        "for when that replica is\n"
        "lost for good.",
    .run = run_sender,
};

static const Field PAIR_FIELDS[] = {{"with", "with", FIELD_TEXT}, {NULL, NULL, FIELD_TEXT}};
static const Field SETTLE_FIELDS[] = {{"take", "take", FIELD_TEXT},
                                      {"field", "field", FIELD_TEXT},
                                      {"by", "by", FIELD_TEXT},
                                      {NULL, NULL, FIELD_TEXT}};

static const Ask SYNC_ASKS[] = {
    {"status", "GET", "/sync", NULL, show_sync, false},
    {"pair", "POST", "/sync/pair", NULL, show_pair, false},
    {"now", "POST", "/sync/visit", NULL, show_visited, false},
    {"conflicts", "GET", "/sync/conflicts", NULL, show_conflicts, false},
    {"settle", "POST", "/sync/settle/{id}", SETTLE_FIELDS, show_settled, false},
    {"unpair", "POST", "/sync/unpair/{id}", NULL, show_unpaired, false},
};

/* With a code this replica takes what another shows. */
static const Ask SYNC_JOIN = {"pair", "POST", "/sync/join/{id}", PAIR_FIELDS, show_pair, false};

static int run_sync(const Cli *cli, int argc, char **argv)
{
    bool named = argc > 2 && argv[2][0] != '-';

    if (argc > 1 && strcmp(argv[1], "export") == 0) return bundle_export(cli, argc - 1, argv + 1);
    if (argc > 1 && strcmp(argv[1], "import") == 0) return bundle_import(cli, argc - 1, argv + 1);
    if (argc > 1 && strcmp(argv[1], "pair") == 0 && named)
        return ask_run(cli, &COMMAND_SYNC, &SYNC_JOIN, 1, argc, argv);
    return ask_run(cli, &COMMAND_SYNC, SYNC_ASKS, G_N_ELEMENTS(SYNC_ASKS), argc, argv);
}

const Command COMMAND_SYNC = {
    .name = "sync",
    .summary = "keep replicas in agreement, over a line or by a stick",
    .usage =
        "status | pair [CODE --with HOST:PORT] | now | unpair PEER | conflicts | settle ID --take "
        "counts|other [--field FIELD] --by NAME | export PEER FILE [--all] | import FILE",
    .help = "  osier sync pair                                       on the clinic's box: shows a "
            "code\n"
            "  osier sync pair ABCDE-FGHIJ-KLMNO-PQRST --with box.example:8752    on the laptop\n"
            "  osier sync status\n"
            "  osier sync export laptop /media/stick/for-laptop.osier\n"
            "  osier sync import /media/stick/for-laptop.osier\n\n"
            "Paired replicas tell each other what the other lacks: at the start, soon after each "
            "change, "
            "every few minutes\n"
            "(sync: in clinic.yaml), and now by now. A bundle carries the same on a stick, sealed "
            "for one "
            "peer. unpair cuts\n"
            "one off at once. conflicts lists what two people set differently without seeing each "
            "other's; the later counts\n"
            "until settle says which it is to be. See docs/sync.md.",
    .run = run_sync,
};
