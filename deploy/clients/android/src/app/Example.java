package app;

import com.google.rpc.BadRequest;
import java.io.PrintStream;
import java.time.LocalDate;
import java.util.UUID;
import java.util.concurrent.TimeUnit;
import nextrung.v1.Block;
import nextrung.v1.Date;
import nextrung.v1.LoggedSet;
import nextrung.v1.PrescribeRequest;
import nextrung.v1.PrescribedItem;
import nextrung.v1.Prescription;
import nextrung.v1.PrescriptionServiceGrpc;
import nextrung.v1.Purpose;
import nextrung.v1.Reason;
import nextrung.v1.RecordSetsRequest;
import nextrung.v1.RecordSetsResponse;
import nextrung.v1.SetLogServiceGrpc;
import nextrung.v1.Stop;
import nextrung.v1.Unit;

/** What an app on a phone does: shows a day's session, records a set of it, and shows what was wrong with a bad one. */
public final class Example {
    private Example() {}

    /** {@code Example URL ROSTER/ATHLETE YYYY-MM-DD}; the key is that of NEXTRUNG_KEY. */
    public static void main(String[] arguments) throws InterruptedException {
        if (arguments.length != 3) {
            System.err.println("run URL ROSTER/ATHLETE YYYY-MM-DD");
            System.exit(2);
        }
        String athlete = "rosters/" + arguments[1].replaceFirst("/", "/athletes/");
        Date day = date(LocalDate.parse(arguments[2]));
        String key = System.getenv().getOrDefault("NEXTRUNG_KEY", "");
        try (Connection connection = new Connection(arguments[0], key)) {
            Prescription prescription = prescribe(connection, athlete, day);
            show(prescription);
            if (prescription.getItemsCount() > 0) {
                record(connection, athlete, day, prescription.getItems(0));
            }
            recordBadly(connection, athlete, day);
        } catch (Refusal refusal) {
            tell(System.err, refusal);
            System.exit(1);
        }
    }

    private static Prescription prescribe(Connection connection, String athlete, Date day)
            throws Refusal, InterruptedException {
        PrescribeRequest request = PrescribeRequest.newBuilder()
                .setParent(athlete)
                .setDate(day)
                .setRequestId(UUID.randomUUID().toString())
                .build();
        return Connection.sure(() -> PrescriptionServiceGrpc.newBlockingStub(connection.channel())
                        .withDeadlineAfter(Connection.LONGEST_SECONDS, TimeUnit.SECONDS)
                        .prescribe(request))
                .getPrescription();
    }

    private static void show(Prescription prescription) {
        System.out.println("kept as " + prescription.getName());
        System.out.println(prescription.getHeadline());
        for (PrescribedItem item : prescription.getItemsList()) {
            String rung = item.getRung().substring(item.getRung().lastIndexOf('/') + 1);
            String unit = item.getUnit() == Unit.UNIT_REPS ? "reps" : "s";
            System.out.printf("- %s, %d x %d to %d %s%n",
                    rung, item.getSets(), item.getTargetLow(), item.getTargetHigh(), unit);
            for (Reason reason : item.getReasonsList()) {
                System.out.println("  " + reason.getSentence());
            }
        }
        for (String caution : prescription.getCautionsList()) {
            System.out.println("caution: " + caution);
        }
    }

    /** Records the first set of an item as done to plan. */
    private static void record(Connection connection, String athlete, Date day, PrescribedItem item)
            throws Refusal, InterruptedException {
        LoggedSet.Builder set = LoggedSet.newBuilder()
                .setClientSetId("phone-" + UUID.randomUUID())
                .setTrainingDate(day)
                .setSetNumber(1)
                .setRung(item.getRung())
                .addAllShadings(item.getShadingsList())
                .setLoadKg(item.getLoadKg())
                .setPurpose(purpose(item.getBlock()))
                .setPlannedTarget(item.getTargetHigh())
                .setStop(Stop.STOP_TARGET);
        switch (item.getUnit()) {
            case UNIT_HOLD_SECONDS:
                set.setHoldSeconds(item.getTargetHigh());
                break;
            case UNIT_LOWERING_SECONDS:
                set.setLoweringSeconds(item.getTargetHigh());
                break;
            default:
                set.setReps(item.getTargetHigh());
        }
        RecordSetsResponse answer = send(connection, athlete, set);
        System.out.println("recorded at log position " + answer.getLogPosition());
    }

    /** Sends a set with mistakes and prints every field of the answer. */
    private static void recordBadly(Connection connection, String athlete, Date day) throws InterruptedException {
        LoggedSet.Builder set = LoggedSet.newBuilder()
                .setClientSetId("bad")
                .setTrainingDate(day)
                .setRung("ladders/pull/rungs/pul-up")
                .setReps(400);
        try {
            send(connection, athlete, set);
        } catch (Refusal refusal) {
            tell(System.out, refusal);
        }
    }

    /** Prints an error with every bad field. */
    private static void tell(PrintStream out, Refusal refusal) {
        out.printf("refused: %s %s of %s: %s%n", refusal.code, refusal.reason, refusal.domain, refusal.getMessage());
        for (BadRequest.FieldViolation field : refusal.fields) {
            out.printf("  %s: %s%n", field.getField(), field.getDescription());
        }
    }

    private static RecordSetsResponse send(Connection connection, String athlete, LoggedSet.Builder set)
            throws Refusal, InterruptedException {
        RecordSetsRequest request = RecordSetsRequest.newBuilder()
                .setParent(athlete)
                .addSets(set)
                .setRequestId(UUID.randomUUID().toString())
                .build();
        return Connection.sure(() -> SetLogServiceGrpc.newBlockingStub(connection.channel())
                .withDeadlineAfter(Connection.LONGEST_SECONDS, TimeUnit.SECONDS)
                .recordSets(request));
    }

    private static Purpose purpose(Block block) {
        switch (block) {
            case BLOCK_BALANCE_PRACTICE:
                return Purpose.PURPOSE_PRACTICE;
            case BLOCK_ATTEMPT:
                return Purpose.PURPOSE_ATTEMPT;
            case BLOCK_TEST:
                return Purpose.PURPOSE_TEST;
            default:
                return Purpose.PURPOSE_WORKING;
        }
    }

    private static Date date(LocalDate day) {
        return Date.newBuilder()
                .setYear(day.getYear())
                .setMonth(day.getMonthValue())
                .setDay(day.getDayOfMonth())
                .build();
    }
}
